//! How short a pulse may be on a wheel that is described.

use super::glitch::LEAST_SHARE;
use super::weighted::weighted_median;
use crate::units::TURN_DEG;
use crate::wheel::{EdgeKind, Wheel, WheelEdge};

/// Of a wheel that is described with something narrower than twice that, this share of the narrowest
/// it has: the crank is up to twice as fast there as around it (judgement).
const OF_THE_NARROWEST: f64 = 0.5;

/// The share of the spacing around it from which on a pulse may be a tooth or a space of this wheel.
pub(super) fn least_share(wheel: &Wheel) -> f64 {
    if !wheel.has_widths() {
        return LEAST_SHARE;
    }
    // The widths are the same whichever edge marks them.
    let edges = wheel.square_edges(EdgeKind::Falling);
    let apart = |steps: usize| {
        let next = edges.iter().cycle().skip(steps);
        let apart =
            |(one, other): (&WheelEdge, &WheelEdge)| (other.at - one.at).0.rem_euclid(TURN_DEG);
        // One tooth's edge comes again after a turn.
        let apart = edges.iter().zip(next).map(apart);
        apart.map(|apart| if apart > 0.0 { apart } else { TURN_DEG }).collect::<Vec<f64>>()
    };
    let narrowest = apart(1).into_iter().fold(TURN_DEG, f64::min);
    let spacing = weighted_median(&mut apart(2)).unwrap_or(TURN_DEG);
    LEAST_SHARE.min(OF_THE_NARROWEST * narrowest / spacing)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::edges::Edge;
    use crate::edges::glitch::drop_glitches;
    use crate::units::Seconds;
    use crate::wheel::parse_wheel;

    #[test]
    fn what_a_wheel_is_described_to_have_is_no_glitch() {
        let described =
            |teeth: &str| parse_wheel(&format!("name = \"w\"\n{teeth}"), "w").expect(teeth);
        let narrow = described(
            "teeth = [{start=0, end=12}, {start=15, end=27.5}, {start=165, end=179}, {start=210, end=222}]",
        );
        for (wheel, want) in [
            // Half of 3° in spacings that are mostly of 150°; of 4° in a turn.
            (&narrow, 0.01),
            (&described("teeth = [{start=7, end=11}]"), 0.5 * 4.0 / 360.0),
            (&described("teeth = [{start=0, end=30}, {start=90, end=150}]"), LEAST_SHARE),
            (&described("slots = 60\nmissing = [59, 60]"), LEAST_SHARE),
        ] {
            approx::assert_relative_eq!(least_share(wheel), want, max_relative = 1e-9);
        }
        // Seven turns of it at 600° a second, a sixth faster and slower three times a turn.
        let time = |turned: f64| {
            let swing = (turned * 3.0).to_radians().sin() / 3.0_f64.to_radians() / 6.0;
            (turned - swing) / 600.0
        };
        let places = narrow.square_edges(EdgeKind::Falling);
        let times: Vec<f64> = (0..7)
            .flat_map(|turn| places.iter().map(move |edge| edge.at.get() + 360.0 * f64::from(turn)))
            .map(time)
            .collect();
        let kinds = [EdgeKind::Rising, EdgeKind::Falling].into_iter().cycle();
        let clean: Vec<Edge> =
            times.into_iter().zip(kinds).map(|(at, kind)| Edge { at: Seconds(at), kind }).collect();
        let mut kept = clean.clone();
        assert_eq!((drop_glitches(&mut kept, 0.0, least_share(&narrow)), &kept), (None, &clean));
        // Not described, they are too short.
        assert!(drop_glitches(&mut kept, 0.0, LEAST_SHARE).is_some());
    }
}
