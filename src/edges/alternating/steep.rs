//! Which of the two passages through zero the wheel makes and which is only the way back.

use super::super::crossing::Crossing;
use super::super::levels::median;
use crate::wheel::EdgeKind;

/// One passage is steeper beyond doubt from this factor on. Over a tooth that stands alone it is
/// tens; on a wheel of even teeth, with spaces about as wide, both are alike: on public recordings
/// of 60-2 the passage that is *not* evenly spaced is the steeper one, by 4 and 7 %.
const STEEPER: f64 = 1.5;

/// The kind of passage that is steeper beyond doubt. Slopes grow with the square of the speed, so
/// each is held against its neighbours only.
pub(super) fn steeper(passages: &[(EdgeKind, Crossing)]) -> Option<EdgeKind> {
    let mut ratios: Vec<f64> = passages
        .windows(2)
        .filter(|pair| pair[0].0 != pair[1].0)
        .map(|pair| {
            let of = |kind| if pair[0].0 == kind { pair[0].1 } else { pair[1].1 };
            let (falling, rising) = (of(EdgeKind::Falling).slope, of(EdgeKind::Rising).slope);
            // A quiet passage may have no slope at all.
            (falling.abs().max(f64::MIN_POSITIVE) / rising.abs().max(f64::MIN_POSITIVE)).ln()
        })
        .collect();
    let ratio = median(&mut ratios)?;
    if ratio.abs() < STEEPER.ln() {
        return None;
    }
    Some(if ratio > 0.0 { EdgeKind::Falling } else { EdgeKind::Rising })
}
