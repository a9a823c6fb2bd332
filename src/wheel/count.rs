//! Places on a turn told by counting teeth, as somebody does who checks by eye.

use super::{EdgeKind, Form, Wheel};
use crate::units::{ShaftDeg, TURN_DEG};

/// The places of a wheel's teeth, for counting: of equal slots every slot, so that the count goes
/// on through a gap.
#[derive(Debug, Clone, PartialEq)]
pub struct ToothCount {
    /// Where tooth 1, 2, … stands, shaft degrees from 0 on, sorted. The middle of the last may lie
    /// past 360.
    marks: Vec<f64>,
    /// Numbers that have no tooth, sorted.
    missing: Vec<u32>,
}

impl Wheel {
    /// The places by which its teeth are counted: slot marks; of teeth listed one by one where each
    /// begins, or its middle where a reluctance sensor's voltage crosses zero.
    #[must_use]
    pub fn counted(&self, by_middle: bool) -> ToothCount {
        if let Form::Slots { slots, missing, .. } = self.form() {
            let pitch = TURN_DEG / f64::from(*slots);
            let marks = (0..*slots).map(|slot| f64::from(slot) * pitch).collect();
            return ToothCount { marks, missing: missing.clone() };
        }
        let half = if by_middle { 0.5 } else { 0.0 };
        let teeth = self.teeth(EdgeKind::Rising).into_iter();
        let marks = teeth.map(|tooth| tooth.start.get() + half * tooth.width.get()).collect();
        ToothCount { marks, missing: Vec::new() }
    }
}

impl ToothCount {
    /// Numbers and places of the teeth, in shaft degrees from 0 to 360.
    pub fn teeth(&self) -> impl Iterator<Item = (u32, f64)> {
        let all = (1..).zip(self.marks.iter().map(|mark| mark.rem_euclid(TURN_DEG)));
        all.filter(|(number, _)| self.missing.binary_search(number).is_err())
    }

    /// How many numbers a turn has, those without a tooth among them.
    #[must_use]
    pub fn numbers(&self) -> usize {
        self.marks.len()
    }

    /// From where to where teeth are missing, in shaft degrees: each slot without one.
    pub fn gaps(&self) -> impl Iterator<Item = (f64, f64)> {
        let pitch = TURN_DEG / self.marks.len().max(1) as f64;
        let start = move |&number: &u32| f64::from(number - 1) * pitch;
        self.missing.iter().map(start).map(move |from| (from, from + pitch))
    }

    /// Whether a place comes before tooth 1, so that it is counted on from the turn before.
    #[must_use]
    pub fn before_first(&self, at: ShaftDeg) -> bool {
        self.marks.first().is_some_and(|&first| at.get() < first)
    }

    /// A place as a count: 12.4 is four tenths of the way from tooth 12 to tooth 13; a place before
    /// tooth 1 is counted on from the last tooth of the turn before.
    #[must_use]
    pub fn at(&self, at: ShaftDeg) -> f64 {
        let Some(&first) = self.marks.first() else { return 1.0 };
        let degrees = at.get() + if at.get() < first { TURN_DEG } else { 0.0 };
        let passed = self.marks.partition_point(|&mark| mark <= degrees);
        let from = self.marks[passed - 1];
        let to = self.marks.get(passed).copied().unwrap_or(first + TURN_DEG);
        passed as f64 + (degrees - from) / (to - from)
    }
}

#[cfg(test)]
mod tests {
    use super::super::WheelSource;
    use super::*;

    fn counted(wheel: &str, by_middle: bool) -> ToothCount {
        let wheel =
            WheelSource::Named(wheel.into()).resolve(None, "test", "wheel").expect("a wheel");
        wheel.counted(by_middle)
    }

    /// Counted by hand on drawings of the wheels.
    #[test]
    fn places_are_counted_in_teeth_on_even_uneven_and_wide_and_narrow_wheels() {
        // (wheel, by middles, degrees, count)
        let rows = [
            ("60-2", false, 0.0, 1.0),
            ("60-2", false, 6.0 * 11.4, 12.4),
            // In the gap the count goes on: slots 59 and 60 have no tooth.
            ("60-2", false, 357.0, 60.5),
            // Teeth begin at 0°, 90° and 250°.
            ("three-uneven", false, 0.0, 1.0),
            ("three-uneven", false, 45.0, 1.5),
            ("three-uneven", false, 170.0, 2.5),
            ("three-uneven", false, 305.0, 3.5),
            // Their middles are at 15°, 120° and 257.5°: 0° is 102.5° of 117.5° past the third.
            ("three-uneven", true, 15.0, 1.0),
            ("three-uneven", true, 0.0, 3.0 + 102.5 / 117.5),
            // Tooth 5 begins at 60° and is wide, tooth 6 at 84° and is narrow, tooth 7 at 99°.
            ("24-wide-narrow", false, 72.0, 5.5),
            ("24-wide-narrow", false, 94.0, 6.0 + 10.0 / 15.0),
        ];
        for (wheel, by_middle, degrees, want) in rows {
            let found = counted(wheel, by_middle).at(ShaftDeg::new(degrees));
            assert!((found - want).abs() < 1e-9, "{wheel} at {degrees}: {found}, not {want}");
        }
        assert!(counted("three-uneven", true).before_first(ShaftDeg::new(3.0)));
        assert!(!counted("three-uneven", false).before_first(ShaftDeg::new(0.0)));
    }

    /// A tooth that runs over the end of the turn keeps its number, though its middle lies in the
    /// next.
    #[test]
    fn a_tooth_over_the_end_of_the_turn_is_the_last() {
        let text =
            "name = \"x\"\nteeth = [{ start = 10.0, end = 30.0 }, { start = 350.0, end = 6.0 }]\n";
        let counted = super::super::parse_wheel(text, "test").expect("a wheel").counted(true);
        assert_eq!(counted.teeth().collect::<Vec<_>>(), [(1, 20.0), (2, 358.0)]);
        // Middles at 20° and 358°: 5° is 7° of 22° past the second.
        let found = counted.at(ShaftDeg::new(5.0));
        assert!((found - (2.0 + 7.0 / 22.0)).abs() < 1e-9, "{found}");
    }

    #[test]
    fn every_tooth_has_its_number_and_a_gap_has_none() {
        let counted_60 = counted("60-2", false);
        assert_eq!(counted_60.teeth().count(), 58);
        assert_eq!(counted_60.gaps().collect::<Vec<_>>(), [(348.0, 354.0), (354.0, 360.0)]);
        for wheel in ["24-wide-narrow", "three-uneven", "four-plus-one", "36-2-2-2-thirds"] {
            for by_middle in [false, true] {
                let counted = counted(wheel, by_middle);
                let teeth: Vec<(u32, f64)> = counted.teeth().collect();
                for (number, at) in &teeth {
                    let found = counted.at(ShaftDeg::new(*at));
                    assert!((found - f64::from(*number)).abs() < 1e-9, "{wheel}: {found}");
                }
            }
        }
    }
}
