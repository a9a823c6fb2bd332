//! What a hypothesis says about the rows.

use super::effects::EffectPrior;
use crate::verdict::readings::Rows;

/// A row and what may move it alone: alternatives with their weights.
pub(crate) type Own = (usize, Vec<(f64, EffectPrior)>);

/// What one explanation says about the rows.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Model {
    /// Fixed effect on each row.
    pub mean: Vec<f64>,
    /// One amount that moves several rows in proportion.
    pub shared: Option<(Vec<f64>, EffectPrior)>,
    /// Amounts that move one row alone.
    pub own: Vec<Own>,
    /// Further normal amounts: pattern and standard deviation.
    pub normal: Vec<(Vec<f64>, f64)>,
    /// All cams may stand anywhere together, so they are unwrapped together.
    pub together: bool,
}

impl Model {
    /// Nothing moves.
    pub(crate) fn still(rows: &Rows) -> Model {
        Model {
            mean: vec![0.0; rows.list.len()],
            shared: None,
            own: vec![],
            normal: vec![],
            together: false,
        }
    }

    /// Whether it leaves everything in its place.
    pub(crate) fn moves_nothing(&self) -> bool {
        let still = self.mean.iter().all(|&late| late == 0.0);
        still && self.shared.is_none() && self.own.is_empty() && self.normal.is_empty()
    }

    /// One row moves by an effect of its own.
    pub(crate) fn moved_alone(rows: &Rows, own: Option<Own>) -> Model {
        Model { own: own.into_iter().collect(), ..Model::still(rows) }
    }
}
