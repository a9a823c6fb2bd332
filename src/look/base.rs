//! A pattern that repeats, before it is known how often it does so in a turn.

use super::align::Marks;
use super::step_slots::{one_irregular, slots_nearest, slots_of};
use super::steps::Turn;
use crate::stats::greatest_common_divisor;

/// What repeats.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Base {
    /// Equal slots: how many from each mark to the next. Plain steps have `plain` of them; more
    /// than one where a tooth stands between two plain ones.
    Slots {
        /// Slots of a plain step.
        plain: usize,
        /// Slots from each mark to the next.
        counts: Vec<usize>,
    },
    /// Marks at uneven places: the share of the period from each to the next.
    Uneven(Vec<f64>),
    /// Equal steps whose teeth are wide or narrow.
    Coded(Vec<bool>),
}

impl Base {
    /// Of equal slots whose plain step is one, reduced to what repeats.
    pub fn slots_of_one(counts: Vec<usize>) -> Base {
        Base::Slots { plain: 1, counts: reduced(&counts, |a, b| a == b) }
    }

    /// Marks in a period.
    pub fn marks(&self) -> usize {
        match self {
            Base::Slots { counts, .. } => counts.len(),
            Base::Uneven(shares) => shares.len(),
            Base::Coded(wide) => wide.len(),
        }
    }

    /// Plain steps that would fill a period.
    pub fn slots(&self) -> usize {
        match self {
            Base::Slots { plain, counts } => counts.iter().sum::<usize>().div_ceil(*plain),
            Base::Uneven(shares) => shares.len(),
            Base::Coded(wide) => wide.len(),
        }
    }

    /// Whether every step is like every other.
    pub fn is_even(&self) -> bool {
        matches!(self, Base::Slots { counts, .. } if counts.len() == 1)
    }

    /// Places of the marks, in plain steps.
    pub fn places(&self) -> Marks {
        let steps: Vec<f64> = match self {
            Base::Slots { plain, counts } => {
                counts.iter().map(|&count| count as f64 / *plain as f64).collect()
            }
            Base::Uneven(shares) => {
                shares.iter().map(|share| share * shares.len() as f64).collect()
            }
            Base::Coded(wide) => vec![1.0; wide.len()],
        };
        let mut at = 0.0;
        let places = steps.iter().map(|step| {
            let here = at;
            at += step;
            here
        });
        let places: Vec<f64> = places.collect();
        Marks { at: places, period: at }
    }

    /// The same pattern from whichever mark it was read.
    pub fn same_as(&self, other: &Base) -> bool {
        match (self, other) {
            (
                Base::Slots { plain: a_plain, counts: a },
                Base::Slots { plain: b_plain, counts: b },
            ) => a_plain == b_plain && turned_alike(a, b, |a, b| a == b),
            (Base::Uneven(a), Base::Uneven(b)) => {
                turned_alike(a, b, |a, b| (a - b).abs() < SAME_SHARE)
            }
            (Base::Coded(a), Base::Coded(b)) => turned_alike(a, b, |a, b| a == b),
            _ => false,
        }
    }
}

/// A gap of two missing teeth, in slots, and what the other slope of a reluctance sensor makes of it
/// and the step beside it.
const TWO_MISSING: usize = 3;
const HALF_WAY: usize = 2;

impl Base {
    /// Whether this is `gapped` as the slope shows it on which a reluctance sensor's voltage comes
    /// back: half-way in a gap of two missing teeth it crosses zero once more, so that the gap and
    /// the step beside it look like two steps of two slots, with a lone tooth between them.
    pub fn is_way_back_of(&self, gapped: &Base) -> bool {
        let (Base::Slots { plain: 1, counts }, Base::Slots { plain: 1, counts: gaps }) =
            (self, gapped)
        else {
            return false;
        };
        let count = counts.len();
        let mut filled = counts.clone();
        let mut found = false;
        for at in 0..count {
            let next = (at + 1) % count;
            if next != at && filled[at] == HALF_WAY && filled[next] == HALF_WAY {
                (filled[at], filled[next]) = (1, TWO_MISSING);
                found = true;
            }
        }
        found && turned_alike(&filled, gaps, |a, b| a == b)
    }
}

/// Uneven steps nearer than this share of the period are the same.
const SAME_SHARE: f64 = 0.02;
/// Most marks in a period of uneven ones: with more, the places are no pattern but whatever the
/// speed made of them.
const MOST_UNEVEN: usize = 8;
/// Steps within this factor are those of an even wheel at an uneven speed.
const LEAST_UNEVEN: f64 = 1.2;
/// A step this much shorter than plain is a part of one.
const SHORT: f64 = 0.78;
/// Parts a plain step may be in.
const MOST_PARTS: usize = 4;
/// Shares of plain steps that differ by more than this are of teeth of different width.
const WIDTH_CODED: f64 = 0.25;

pub(super) fn turned_alike<T>(a: &[T], b: &[T], same: impl Fn(&T, &T) -> bool) -> bool {
    a.len() == b.len()
        && (0..a.len()).any(|by| (0..a.len()).all(|i| same(&a[i], &b[(i + by) % b.len()])))
}

/// The shortest part that repeats.
fn reduced<T: Clone>(list: &[T], same: impl Fn(&T, &T) -> bool) -> Vec<T> {
    let count = list.len();
    let part = (1..=count)
        .filter(|part| count.is_multiple_of(*part))
        .find(|part| (0..count).all(|i| same(&list[i], &list[(i + part) % count])));
    list[..part.unwrap_or(count)].to_vec()
}

/// Every pattern that the mean of a period may be.
pub(super) fn bases_of(turn: &Turn) -> Vec<Base> {
    let mut bases = Vec::new();
    let typical = turn.over_typical(&turn.steps);
    let short = typical.iter().any(|&ratio| ratio < SHORT);
    let parts = if short { MOST_PARTS } else { 1 };
    for plain in 1..=parts {
        let smoothest = slots_of(&turn.steps, &typical, plain);
        let nearest = slots_nearest(&typical, plain);
        for counts in smoothest.into_iter().chain(nearest).chain(one_irregular(&typical, plain)) {
            let counts = reduced(&counts, |a, b| a == b);
            let used = counts
                .iter()
                .fold(plain, |a, &b| greatest_common_divisor(a as u64, b as u64) as usize);
            // A finer division that nothing needs is the coarser one.
            if used == 1 || plain == 1 {
                bases.push(Base::Slots { plain, counts });
            }
        }
    }
    let count = turn.steps.len();
    if (2..=MOST_UNEVEN).contains(&count) {
        let whole: f64 = turn.steps.iter().sum();
        let shares: Vec<f64> = turn.steps.iter().map(|step| step / whole).collect();
        let most = shares.iter().copied().fold(0.0, f64::max);
        let least = shares.iter().copied().fold(1.0, f64::min);
        if most > LEAST_UNEVEN * least {
            let part = reduced(&shares, |a, b| (a - b).abs() < SAME_SHARE);
            let whole: f64 = part.iter().sum();
            bases.push(Base::Uneven(part.iter().map(|share| share / whole).collect()));
        }
    }
    if let Some(wide) = widths(turn) {
        bases.push(Base::Coded(reduced(&wide, |a, b| a == b)));
    }
    bases
}

/// Patterns that a slot pattern could be mistaken for: each gap a slot longer or shorter.
pub(super) fn neighbours_of(base: &Base) -> Vec<Base> {
    let Base::Slots { plain, counts } = base else { return Vec::new() };
    let mut neighbours = Vec::new();
    let changed = |at: usize, count: usize| {
        let mut counts = counts.clone();
        counts[at] = count;
        Base::Slots { plain: *plain, counts }
    };
    let gaps: Vec<usize> = (0..counts.len()).filter(|&at| counts[at] > *plain).collect();
    // With many gaps, all of one size: they are cut alike.
    for &at in gaps.iter().take(3) {
        neighbours.push(changed(at, counts[at] + plain));
        if counts[at] > *plain {
            neighbours.push(changed(at, counts[at] - plain));
        }
    }
    neighbours
}

/// Whether teeth differ in width: among plain steps the other edge comes at two different shares.
/// Which are wide.
fn widths(turn: &Turn) -> Option<Vec<bool>> {
    let mut sorted = turn.steps.clone();
    sorted.sort_by(f64::total_cmp);
    let common = *sorted.get(sorted.len() / 2)?;
    let plain = turn.steps.iter().all(|step| (step / common - 1.0).abs() < 0.5);
    let most = turn.shares.iter().copied().fold(0.0, f64::max);
    let least = turn.shares.iter().copied().fold(1.0, f64::min);
    let middle = most.midpoint(least);
    // Two kinds and nothing between.
    let apart = turn
        .shares
        .iter()
        .all(|share| (share - most).abs().min((share - least).abs()) < WIDTH_CODED / 2.0);
    let coded = plain && most - least > WIDTH_CODED && apart && least > 0.0;
    coded.then(|| turn.shares.iter().map(|&share| share > middle).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn slots(steps: &[f64]) -> Vec<Base> {
        let turn = Turn { steps: steps.to_vec(), shares: vec![0.0; steps.len()] };
        bases_of(&turn)
    }

    #[test]
    fn a_lone_tooth_on_one_slope_alone_is_the_way_back() {
        let gapped = |gap: &[usize]| {
            let counts = [vec![1; 30 - gap.len()], gap.to_vec()].concat();
            Base::Slots { plain: 1, counts }
        };
        // 60-2 by its two slopes, begun at any tooth.
        assert!(gapped(&[2, 2]).is_way_back_of(&gapped(&[1, 3])));
        assert!(!gapped(&[2, 2]).is_way_back_of(&gapped(&[2, 2])));
        assert!(!gapped(&[1, 3]).is_way_back_of(&gapped(&[1, 3])));
        assert!(!gapped(&[2, 2]).is_way_back_of(&gapped(&[1, 4])));
    }

    #[test]
    fn an_extra_tooth_at_a_third_of_a_step_needs_thirds() {
        let mut steps = vec![30.0; 11];
        steps.extend([10.0, 20.0]);
        let bases = slots(&steps);
        let mut want = vec![3; 11];
        want.extend([1, 2]);
        let want = Base::Slots { plain: 3, counts: want };
        assert!(bases.iter().any(|base| base.same_as(&want)), "{bases:?}");
        assert_eq!((want.marks(), want.slots(), want.is_even()), (13, 12, false));
        let half: Vec<f64> = (0..11).map(|_| 30.0).chain([15.0, 15.0]).collect();
        let want: Vec<usize> = (0..11).map(|_| 2).chain([1, 1]).collect();
        let want = Base::Slots { plain: 2, counts: want };
        assert!(slots(&half).iter().any(|base| base.same_as(&want)));
    }

    #[test]
    fn a_coarse_wheel_is_also_read_by_the_length_of_its_steps_alone() {
        // 6+1 by edges that ripple moves: shares seen by the decoder of a practice start.
        let bases = slots(&[0.153, 0.159, 0.092, 0.093, 0.154, 0.161, 0.188]);
        let want = Base::Slots { plain: 2, counts: vec![2, 2, 1, 1, 2, 2, 2] };
        assert!(bases.iter().any(|base| base.same_as(&want)), "{bases:?}");
    }

    #[test]
    fn an_extra_tooth_is_thought_of_on_an_engine_whose_compressions_come_every_other_step() {
        // 8+1 on six cylinders, the extra tooth a fifth of a step on: mean steps that the decoder saw.
        let steps = vec![0.9, 1.38, 1.15, 0.98, 1.44, 0.95, 1.23, 0.31, 1.0];
        let want = Base::Slots { plain: 4, counts: vec![4, 4, 4, 4, 4, 4, 4, 1, 3] };
        assert!(bases_of(&Turn { shares: vec![0.0; 9], steps }).contains(&want));
        let steps = vec![60.0, 75.0, 52.0, 70.0, 140.0];
        let want = Base::slots_of_one(vec![1, 1, 1, 1, 2]);
        assert!(bases_of(&Turn { shares: vec![0.0; 5], steps }).contains(&want));
    }

    #[test]
    fn gaps_are_told_from_a_slow_compression() {
        // 36-2-2 in groups of 10 and 22; the speed falls by half at two places.
        let mut steps: Vec<f64> = vec![10.0; 32];
        (steps[9], steps[31]) = (30.0, 30.0);
        for (at, slow) in [(3, 1.25), (4, 1.7), (5, 1.3), (19, 1.3), (20, 1.8), (21, 1.2)] {
            steps[at] *= slow;
        }
        let mut want = vec![1; 32];
        (want[9], want[31]) = (3, 3);
        let bases = slots(&steps);
        let want = Base::Slots { plain: 1, counts: want };
        assert!(bases.iter().any(|base| base.same_as(&want)), "{bases:?}");
    }

    #[test]
    fn what_repeats_is_reduced_and_uneven_teeth_are_kept() {
        let three: Vec<f64> = (0..30).map(|i| if i % 10 == 9 { 30.0 } else { 10.0 }).collect();
        let Base::Slots { counts, .. } = &slots(&three)[0] else { panic!("slots") };
        assert_eq!(counts.len(), 10);
        assert!(slots(&[70.0, 110.0]).iter().any(|base| matches!(base, Base::Uneven(_))));
        assert!(slots(&[30.0; 12]).iter().all(Base::is_even));
    }
}
