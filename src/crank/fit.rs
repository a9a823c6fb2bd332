//! How well a wheel explains a train, whether or not it locks.

use super::reading::read_both;
use super::search::EXTRA_PRICE;
use crate::edges::EdgeTrain;
use crate::engine::Crank;

/// How well a wheel explains a train, whether or not it locks.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct WheelFit {
    /// Cost of the best reading over the whole train in nats: roughness, missed and extra teeth, edges left out.
    pub nats: f64,
    /// Turns of the stretch that was read.
    pub turns: f64,
}

/// Price of an edge of a kind the wheel's pattern does not speak of, in nats: less than that of one that
/// contradicts it.
const UNSPOKEN_PRICE: f64 = 1.0;
/// Price of an edge that no stretch holds, in nats: that of an edge that is no tooth.
const LEFT_OUT_PRICE: f64 = EXTRA_PRICE;

/// Scores a wheel against a train, for choosing between wheels; `None` when it cannot be read at all.
pub(crate) fn fit(train: &EdgeTrain, crank: &Crank) -> Option<WheelFit> {
    read_both(train, crank)
        .into_iter()
        .map(|reading| {
            let read = reading.marks.edges.len();
            let left_out = read - reading.stretch.teeth.len();
            let unspoken = train.edges.len() - read;
            WheelFit {
                nats: reading.stretch.nats()
                    + LEFT_OUT_PRICE * left_out as f64
                    + UNSPOKEN_PRICE * unspoken as f64,
                turns: reading.turns(),
            }
        })
        .min_by(|a, b| a.nats.total_cmp(&b.nats))
}
