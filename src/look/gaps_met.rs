//! Wheels with several gaps at uneven places that are met with.

use super::base::turned_alike;

/// Wheels whose gaps stand at places that no rule gives and that are met with all the same: teeth
/// in a row with the slots missing after them, and their share of wheels with several gaps. The
/// first two are in the wheel library, the third was recorded; the shares are judgement.
const GAPS_MET: [(&[(usize, usize)], f64); 3] =
    [(&[(13, 2), (1, 2), (16, 2)], 0.2), (&[(17, 1), (16, 2)], 0.1), (&[(10, 2), (22, 2)], 0.1)];

/// Share of wheels with several gaps that have these, if they are met with.
pub(super) fn gaps_met(counts: &[usize]) -> Option<f64> {
    let same = |runs: &[(usize, usize)]| {
        let steps = runs.iter().flat_map(|&(teeth, missing)| {
            std::iter::repeat_n(1, teeth - 1).chain(std::iter::once(missing + 1))
        });
        turned_alike(&steps.collect::<Vec<usize>>(), counts, |a, b| a == b)
    };
    GAPS_MET.iter().find(|(runs, _)| same(runs)).map(|&(_, share)| share)
}

#[cfg(test)]
mod tests {
    use super::super::base::Base;
    use super::super::priors::crank_wheel;
    use crate::wheel::{LIBRARY, parse_wheel};

    /// 36 slots but for gaps: which step, and how long it is.
    fn gaps(at: &[(usize, usize)]) -> Base {
        let missing: usize = at.iter().map(|(_, gap)| gap - 1).sum();
        let mut counts = vec![1; 36 - missing];
        at.iter().for_each(|&(at, gap)| counts[at] = gap);
        Base::slots_of_one(counts)
    }

    #[test]
    fn gaps_at_uneven_places_that_are_met_with_are_likelier_than_others() {
        let met = [
            gaps(&[(12, 3), (13, 3), (29, 3)]),
            gaps(&[(16, 2), (32, 3)]),
            gaps(&[(9, 3), (31, 3)]),
        ];
        for (met, other) in met.iter().zip([
            gaps(&[(11, 3), (13, 3), (29, 3)]),
            gaps(&[(15, 2), (32, 3)]),
            gaps(&[(8, 3), (31, 3)]),
        ]) {
            assert!(crank_wheel(met, 1) - crank_wheel(&other, 1) > 2.0, "{met:?}");
        }
        for (entry, met) in [("36-2-2-2-uneven", &met[0]), ("36-2-1", &met[1])] {
            let text = LIBRARY.iter().find(|one| one.name == entry).expect(entry).text;
            let marks = parse_wheel(text, entry).expect(entry).slot_marks().expect("slots");
            let slots: Vec<usize> =
                marks.iter().map(|mark| (mark.get() / 10.0).round() as usize).collect();
            let next = slots.iter().skip(1).copied().chain([slots[0] + 36]);
            let counts = slots.iter().zip(next).map(|(from, to)| to - from).collect();
            assert!(Base::slots_of_one(counts).same_as(met), "{entry}");
        }
    }
}
