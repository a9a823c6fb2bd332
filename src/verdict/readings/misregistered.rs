//! Was the wheel recognised the wrong way round?

use super::outliers::MOST_OUTLIER;
use super::wheel_edges::{edge_counts, odd_share};
use crate::cam::CamPosition;
use crate::stats::log_sum;
use crate::verdict::density::log_normal;

/// An edge that is no edge of the wheel, or one that is lost, is never rarer than this, however
/// clean the signal looks.
const LEAST_ODD_SHARE: f64 = 0.02;
/// A wheel that fits equally well another way round stands wrongly in at least every other capture;
/// a little more, because then neither may be right.
const EITHER_WAY: f64 = 0.7;
/// A roughly made wheel loses this share of its score: edges 3° off where they may be taken for the
/// wheel's within 12° cost the square of a quarter each.
const FIT_OF_WHEEL_SD: f64 = 0.05;

/// Probability that the wheel stands another way round than found.
///
/// By its edges: the next best rotation leaves a share `fit` more of the wheel's edges unexplained
/// than the best. Were it the right one, each of those would be odd twice, an edge of the wheel
/// that was lost and an edge where the wheel has none; and odd edges have the share that this
/// signal shows.
///
/// By its score: the score is the product of two proportions among n edges, each with variance o(1
/// − o)/n where o is the odd share; the difference of two scores has four times that.
///
/// By its scatter: edges that are noise do not repeat ([`log_scatter_of_noise`]).
///
/// In 2,000 simulated captures (seeds from 50001, a whole crank wheel) 37 of 4,786 readings were
/// wrong; this says 45. Of 4,640 readings that it gives less than 0.03 none was wrong.
pub(crate) fn misregistered(cam: &CamPosition) -> f64 {
    let fit = if cam.fit.is_finite() { cam.fit.clamp(0.0, 1.0) } else { 0.0 };
    let (seen, odd) = edge_counts(cam);
    let share = odd_share(cam).max(LEAST_ODD_SHARE);
    let by_edges = share.powf(2.0 * fit * cam.edges.len().max(1) as f64);
    let by_chance = 2.0 * (share * (1.0 - share) / (seen + odd)).sqrt();
    let by_score = (-0.5 * (fit / by_chance.hypot(FIT_OF_WHEEL_SD)).powi(2)).exp();
    let wrong = EITHER_WAY * by_edges.max(by_score);
    let noise = log_scatter_of_noise(cam, fit).exp() * wrong;
    (noise / (noise + 1.0 - wrong)).min(MOST_OUTLIER)
}

/// Scatter of one edge from cycle to cycle in crank degrees, and the spread of its logarithm: of a
/// wheel's edge; and of noise that was taken for one, which falls anywhere within the decoder's
/// reach (judgement).
const EDGE_SCATTER: (f64, f64) = (0.4, 1.0);
const NOISE_SCATTER: (f64, f64) = (6.0, 0.7);
/// Fewer readings of an edge have no scatter to speak of.
const LEAST_READINGS: usize = 3;

/// Log odds, at most 0, that the edges which another rotation leaves unexplained scatter as noise
/// does: a share `fit` of them, the loosest ones. An edge of the wheel scatters as noise where
/// noise is. Less than one whole edge is no edge that is noise, but all of them a little out of
/// place, which says nothing here.
fn log_scatter_of_noise(cam: &CamPosition, fit: f64) -> f64 {
    let odd = odd_share(cam);
    let read = cam.edges.iter().filter(|edge| edge.n >= LEAST_READINGS);
    let mut scatters: Vec<f64> = read.filter_map(|edge| Some(edge.sd?.0.max(0.02).ln())).collect();
    scatters.sort_by(|a, b| b.total_cmp(a));
    let unexplained = (fit * cam.edges.len() as f64) as usize;
    let around =
        |log_sd: f64, (median, spread): (f64, f64)| log_normal(log_sd - median.ln(), spread);
    let one = |&log_sd: &f64| {
        let noise = around(log_sd, NOISE_SCATTER);
        let real = log_sum([(1.0 - odd).ln() + around(log_sd, EDGE_SCATTER), odd.ln() + noise]);
        (noise - real).min(0.0)
    };
    scatters.iter().take(unexplained).map(one).sum()
}
