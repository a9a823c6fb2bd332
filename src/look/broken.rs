//! Patterns whose repetition an accident broke.
//!
//! A tooth lost once too often, or a slip of the count at a slow compression, makes what comes
//! three times a turn look like one pattern of a whole turn, and a turn look like two. So the parts
//! of a pattern that nearly repeats itself are weighed as well.

use super::base::Base;

/// Marks that may be too many or too few in one of so many parts, for a pattern that repeats but
/// for accidents: one in two of them.
const PARTS_PER_ACCIDENT: usize = 2;
/// Slots of the shortest part.
const LEAST_SLOTS: usize = 3;

/// The parts of a pattern of slots that nearly repeats itself: with every tooth that some part
/// shows, and with those that most of them show.
pub(super) fn parts_of(base: &Base) -> Vec<Base> {
    let Base::Slots { plain, counts } = base else { return Vec::new() };
    let slots = base.slots();
    if counts.len() == 1 || counts.iter().sum::<usize>() != slots * plain {
        return Vec::new();
    }
    let at: Vec<usize> = counts
        .iter()
        .scan(0, |at, count| {
            let here = *at;
            *at += count;
            Some(here)
        })
        .collect();
    let mut found: Vec<Base> = Vec::new();
    for part in (LEAST_SLOTS..slots).filter(|part| slots.is_multiple_of(*part)) {
        let (groups, length) = (slots / part, part * plain);
        let mut seen = vec![0; length];
        for place in &at {
            seen[place % length] += 1;
        }
        let most = (groups / PARTS_PER_ACCIDENT).max(1);
        let accidents: usize = seen.iter().map(|&seen: &usize| seen.min(groups - seen)).sum();
        if accidents > most {
            continue;
        }
        for least in [1, groups / 2 + 1] {
            let base = of_places(*plain, length, (0..length).filter(|&place| seen[place] >= least));
            found.extend(base.filter(|base| !found.iter().any(|other| other.same_as(base))));
        }
    }
    found
}

/// The pattern with teeth at these places of a period; `None` where it is even.
fn of_places(plain: usize, length: usize, places: impl Iterator<Item = usize>) -> Option<Base> {
    let places: Vec<usize> = places.collect();
    let next = places.iter().skip(1).copied().chain([places.first()? + length]);
    let counts: Vec<usize> = places.iter().zip(next).map(|(from, to)| to - from).collect();
    // Parts of a step that no tooth needs are none.
    let parts = plain == 1 || counts.iter().any(|count| !count.is_multiple_of(plain));
    let even = counts.iter().all(|count| *count == counts[0]);
    (parts && !even).then_some(Base::Slots { plain, counts })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn with(plain: usize, marks: usize, odd: &[(usize, usize)]) -> Base {
        let mut counts = vec![plain; marks];
        for &(at, count) in odd {
            counts[at] = count;
        }
        Base::Slots { plain, counts }
    }

    #[test]
    fn five_groups_of_which_an_accident_broke_one_are_looked_at_as_one() {
        let broken = with(1, 51, &[(9, 3), (19, 3), (30, 2), (40, 3), (50, 3)]);
        let want = with(1, 10, &[(9, 3)]);
        assert!(parts_of(&broken).iter().any(|base| base.same_as(&want)), "{broken:?}");
    }

    #[test]
    fn two_turns_of_which_one_lost_its_extra_tooth_are_looked_at_as_one() {
        let twice = with(2, 25, &[(15, 1), (16, 1)]);
        let want = with(2, 13, &[(3, 1), (4, 1)]);
        assert!(parts_of(&twice).iter().any(|base| base.same_as(&want)), "{twice:?}");
    }

    #[test]
    fn a_pattern_that_does_not_repeat_has_no_parts() {
        for base in [
            with(1, 58, &[(57, 3)]),
            with(1, 32, &[(9, 3), (31, 3)]),
            with(1, 30, &[(9, 3), (10, 3), (29, 3)]),
            with(1, 1, &[]),
        ] {
            assert_eq!(parts_of(&base), [], "{base:?}");
        }
    }
}
