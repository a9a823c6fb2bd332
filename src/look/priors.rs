//! How common are wheels, speeds and hook-ups, before a signal is seen?
//!
//! All shares are common practice without a source, or judgement; what matters is their order of
//! size: a wheel of 37 slots with three missing is a thousand times rarer than one of 36 with two,
//! and the signal must say so loudly before it is believed. Natural logarithms of probabilities
//! throughout.

use super::base::Base;
use super::gaps_met::gaps_met;

/// Kinds of crank wheels: one gap, even, one extra tooth, several gaps, uneven teeth, wide and
/// narrow teeth.
const ONE_GAP: f64 = 0.62;
const EVEN: f64 = 0.10;
const EXTRA_TOOTH: f64 = 0.06;
const SEVERAL_GAPS: f64 = 0.06;
const UNEVEN: f64 = 0.08;
const CODED: f64 = 0.04;

/// Slots of wheels with gaps, and how common each is. Any other number up to `FINE` that divides a
/// turn into whole degrees has `WHOLE_DEGREES`, any other at all `ODD_SLOTS`.
const SLOTS: [(usize, f64); 8] =
    [(60, 0.45), (36, 0.33), (24, 0.05), (12, 0.04), (6, 0.02), (30, 0.01), (18, 0.01), (48, 0.01)];
const WHOLE_DEGREES: f64 = 0.004;
const ODD_SLOTS: f64 = 0.000_02;
/// A crank wheel of more slots than this has them too close for its sensor.
const FINE: usize = 90;
/// Adjacent missing teeth: one, two, three, four, more.
const MISSING: [f64; 5] = [0.42, 0.53, 0.02, 0.02, 0.002];
/// Teeth of even wheels: those that are met with, any other up to twelve, any other (ring gears).
const EVEN_TEETH: [(usize, f64); 8] =
    [(24, 0.15), (12, 0.1), (1, 0.05), (2, 0.08), (3, 0.06), (4, 0.08), (6, 0.06), (8, 0.04)];
const EVEN_FEW: f64 = 0.01;
const EVEN_MANY: f64 = 0.003;
/// Plain teeth of wheels with one more between two of them.
const EXTRA_ON: [(usize, f64); 6] =
    [(12, 0.5), (24, 0.1), (4, 0.08), (6, 0.08), (8, 0.05), (36, 0.02)];
const EXTRA_ON_OTHER: f64 = 0.002;
/// Where the extra tooth may stand: halves, thirds, quarters.
const EXTRA_PLACES: f64 = 0.2;
/// Share of further gaps of one wheel that are like the first.
const GAPS_ALIKE: f64 = 0.8;
/// Uneven teeth come in like groups, one for each firing of a turn, rather than once.
const UNEVEN_IN_GROUPS: f64 = 0.75;
/// Ways to place a further uneven tooth that are told apart.
const UNEVEN_PLACES: f64 = 10.0;
/// Groups in a turn, against two: one for each firing, of which an engine of four cylinders has two
/// a turn, of six three and of eight four, and of six and eight fewer are built (judgement); more
/// groups are not made.
const GROUPS: [(usize, f64); 4] = [(1, 1.0), (2, 1.0), (3, 0.4), (4, 0.25)];
const MORE_GROUPS: f64 = 0.01;
/// Uneven teeth in a turn, and how much rarer each one more makes them: then they are slots.
const FEW_UNEVEN: usize = 8;
const MANY_UNEVEN: f64 = 0.3;
/// A wheel of so few slots with more than one missing in a row: the angle would be lost for a
/// quarter of a turn, and no such wheel is common.
const FEW_SLOTS: usize = 12;
const WIDE_GAP: f64 = 0.05;
/// A wheel whose pattern repeats within the turn, of a kind that does not need to: coarse ones do
/// now and then.
const REPEATED: f64 = 0.02;
const REPEATED_FINE: f64 = 0.000_1;
/// Slots up to which a wheel with repeats is coarse.
const COARSE: usize = 60;
/// Wheels that are made with like groups, each with two teeth missing: slots, groups, and their
/// share of wheels with gaps (from memory; the first is in the wheel library).
const GROUPED: [(usize, usize, f64); 4] =
    [(36, 3, 0.02), (44, 2, 0.005), (66, 3, 0.005), (60, 2, 0.005)];

fn of(table: &[(usize, f64)], key: usize) -> Option<f64> {
    table.iter().find(|(of, _)| *of == key).map(|&(_, share)| share)
}

/// A crank wheel made of a pattern that comes `repeats` times a turn.
pub(super) fn crank_wheel(base: &Base, repeats: usize) -> f64 {
    let share = match base {
        Base::Slots { plain, counts } => slots(*plain, counts, repeats),
        Base::Uneven(shares) => {
            let grouped = if repeats > 1 { UNEVEN_IN_GROUPS } else { 1.0 - UNEVEN_IN_GROUPS };
            let many = (shares.len() * repeats).saturating_sub(FEW_UNEVEN);
            let teeth = MANY_UNEVEN.powi(many as i32);
            let places = UNEVEN_PLACES.powi(shares.len() as i32 - 1);
            UNEVEN * grouped * groups(repeats) * teeth / places
        }
        Base::Coded(wide) => {
            let repeated = if repeats > 1 { REPEATED } else { 1.0 };
            CODED * repeated * 0.5_f64.powi(wide.len() as i32)
        }
    };
    share.max(f64::MIN_POSITIVE).ln()
}

/// How much rarer a wheel is for its groups.
fn groups(repeats: usize) -> f64 {
    of(&GROUPS, repeats).unwrap_or(MORE_GROUPS)
}

fn slots(plain: usize, counts: &[usize], repeats: usize) -> f64 {
    let all = counts.iter().sum::<usize>();
    let slots = all / plain * repeats;
    if counts.len() == 1 {
        let few = if repeats <= 12 { EVEN_FEW } else { EVEN_MANY };
        return EVEN * of(&EVEN_TEETH, repeats).unwrap_or(few);
    }
    if all % plain != 0 {
        return 0.0;
    }
    let other = if slots <= FINE && 360 % slots == 0 { WHOLE_DEGREES } else { ODD_SLOTS };
    let gaps: Vec<usize> = counts.iter().filter(|&&count| count > plain).copied().collect();
    let parts = counts.iter().filter(|&&count| count < plain).count();
    let repeated = match (repeats, slots) {
        (1, _) => 1.0,
        (_, slots) if slots > FINE => 0.0,
        (_, slots) if slots <= COARSE => REPEATED * groups(repeats),
        _ => REPEATED_FINE * groups(repeats),
    };
    if parts > 0 {
        // One plain step in two parts; anything else is no wheel that is made.
        let one = parts == 2 && gaps.is_empty() && is_one_step_in_two(plain, counts);
        let rare = if one { 1.0 } else { (slots as f64).powi(-(parts as i32)) * 1e-3 };
        let on = of(&EXTRA_ON, slots).unwrap_or(EXTRA_ON_OTHER);
        return EXTRA_TOOTH * on * EXTRA_PLACES * rare * repeated;
    }
    let missing = |gap: usize| {
        let whole = gap.is_multiple_of(plain);
        let missing = (gap / plain).saturating_sub(1);
        let share = MISSING[missing.clamp(1, MISSING.len()) - 1];
        if whole { share } else { share * 1e-3 }
    };
    let Some(first) = gaps.iter().copied().max() else { return 0.0 };
    let size = of(&SLOTS, slots).unwrap_or(other) * missing(first);
    let grouped = GROUPED.iter().find(|one| (one.0, one.1) == (slots, repeats));
    if let (Some(&(_, _, share)), [gap]) = (grouped, &gaps[..])
        && *gap == 3 * plain
    {
        return ONE_GAP * share;
    }
    if gaps.len() == 1 {
        let wide = slots <= FEW_SLOTS && first > 2 * plain;
        return ONE_GAP * size * repeated * if wide { WIDE_GAP } else { 1.0 };
    }
    if let (1, 1, Some(share)) = (plain, repeats, gaps_met(counts)) {
        return SEVERAL_GAPS * share;
    }
    // The first gap is where counting begins; each further one may be anywhere.
    let mut further = if alone_between(plain, counts) { WRONG_SLOPE } else { 1.0 };
    let mut left = gaps.clone();
    left.remove(left.iter().position(|&gap| gap == first).unwrap_or(0));
    for gap in left {
        let like = if gap == first { GAPS_ALIKE } else { (1.0 - GAPS_ALIKE) * missing(gap) };
        further *= like / slots as f64;
    }
    SEVERAL_GAPS * size * further * repeated
}

/// Whether two parts of a plain step stand beside each other and make one together.
fn is_one_step_in_two(plain: usize, counts: &[usize]) -> bool {
    let next = counts.iter().cycle().skip(1);
    counts.iter().zip(next).any(|(&a, &b)| a < plain && b < plain && a + b == plain)
}

/// A tooth beside a gap that the sensor or its conditioner loses in every turn, so that the gap
/// looks longer: one lead in a thousand (judgement; a recorded one lost it in half of the turns).
const ALWAYS_LOST: f64 = 0.001;
/// One that loses some tooth now and then may lose another every time: one in fifty of those
/// (judgement).
const ALWAYS_LOST_TOO: f64 = 0.02;

/// What wheels with one tooth more beside a gap, which the lead loses every time, are worth against
/// this one: nothing tells the two apart but how common each is, and whether the lead `loses` other
/// teeth.
pub(super) fn with_a_tooth_lost(base: &Base, repeats: usize, loses: bool) -> f64 {
    let Base::Slots { plain: 1, counts } = base else { return 0.0 };
    let own = crank_wheel(base, repeats);
    // A gap is left somewhere.
    let gaps = counts.iter().filter(|&&count| count > 1).count();
    let filled =
        (0..counts.len()).filter(|&at| counts[at] > if gaps > 1 { 1 } else { 2 }).flat_map(|at| {
            let shorter = |first: usize, then: usize| {
                let mut counts = counts.clone();
                counts.splice(at..=at, [first, then]);
                Base::slots_of_one(counts)
            };
            [shorter(1, counts[at] - 1), shorter(counts[at] - 1, 1)]
        });
    // Of several gaps it is lost behind each, or before each, by the same habit.
    let behind_each = |behind: bool| {
        let shorter = |&count: &usize| match (count, behind) {
            (1, _) => vec![1],
            (gap, true) => vec![1, gap - 1],
            (gap, false) => vec![gap - 1, 1],
        };
        Base::slots_of_one(counts.iter().flat_map(shorter).collect())
    };
    let wide = counts.iter().any(|&count| count > 2);
    let all = [true, false].into_iter().filter(|_| gaps > 1 && wide).map(behind_each);
    let others = filled.chain(all).map(|other| (crank_wheel(&other, repeats) - own).exp());
    let lost = if loses { ALWAYS_LOST_TOO } else { ALWAYS_LOST };
    lost * others.sum::<f64>()
}

/// Two gaps of one tooth with a lone tooth between them: no wheel is known to have them, and on the
/// wrong slope of a reluctance signal every gap of two teeth looks so, because the slow swing back
/// crosses zero half-way (measured on the recordings).
const WRONG_SLOPE: f64 = 0.000_01;

fn alone_between(plain: usize, counts: &[usize]) -> bool {
    let count = counts.len();
    (0..count).any(|at| counts[at] == 2 * plain && counts[(at + 1) % count] == 2 * plain)
}

/// Teeth of a cam's wheel: one to eight; more are rarer and rarer.
const CAM_TEETH: [f64; 8] = [0.2, 0.1, 0.2, 0.2, 0.12, 0.08, 0.04, 0.02];
const CAM_TEETH_MORE: f64 = 0.02;
const CAM_TEETH_FALL: f64 = 0.6;
/// Share of cam wheels that look the same several times a turn: with every tooth alike, or in
/// groups.
const CAM_EVEN: f64 = 0.12;
const CAM_GROUPS: f64 = 0.04;
/// Share of second position sensors that turn with the crank and mark its turn, beside a wheel that
/// has no mark of its own and beside one that has; and share of those with one tooth.
const TURN_MARK: (f64, f64) = (0.05, 0.001);
const TURN_MARK_ONE: f64 = 0.8;

/// Share of engines on which no cam wheel that was recorded tells the two turns of a cycle apart,
/// as it is there to do: such a wheel stands beside another that does, or beside nothing on simple
/// engines.
const BLIND: f64 = 0.05;

/// What else a hypothesis has beside a cam.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Beside {
    /// The crank's own wheel has a mark.
    pub marked: bool,
    /// Some cam tells the two turns of a cycle apart.
    pub told: bool,
}

/// A lead whose signal comes back once a cycle: `teeth` in a cycle, which looks the same `parts`
/// times in it.
pub(super) fn cam_wheel(teeth: usize, parts: usize, beside: Beside, called_cam: bool) -> f64 {
    let few = |teeth: usize| match teeth {
        0 => 0.0,
        few if few <= CAM_TEETH.len() => CAM_TEETH[few - 1],
        many => CAM_TEETH_MORE * (-CAM_TEETH_FALL * (many - CAM_TEETH.len()) as f64).exp(),
    };
    let symmetry = match parts {
        1 => 1.0 - CAM_EVEN - CAM_GROUPS,
        parts if parts == teeth => CAM_EVEN,
        _ => CAM_GROUPS,
    };
    let blind = if beside.told { 1.0 } else { BLIND };
    let mut share = few(teeth) * symmetry * blind;
    if parts.is_multiple_of(2) {
        let kind = if beside.marked { TURN_MARK.1 } else { TURN_MARK.0 };
        let one = if teeth == 2 { TURN_MARK_ONE } else { (1.0 - TURN_MARK_ONE) * few(teeth / 2) };
        let header = if called_cam { 1.0 / HEADER_ODDS } else { 1.0 };
        share += kind * one * header;
    }
    share.max(1e-12).ln()
}

/// A lead that is no wheel of this engine's crank or cams, one in a hundred, as a logarithm: an
/// output, a vehicle speed sensor, a signal too broken to come back.
pub(super) const NO_WHEEL: f64 = -4.6;
/// One that is finer than the wheel that is taken for the crank's, and no output: one in a thousand
/// of those.
pub(super) const FINER_NO_WHEEL: f64 = -6.9;
/// A lead with a pattern of gaps or widths that repeats, and that is neither the crank nor a cam:
/// only a wheel makes such a pattern, and an engine has no other wheels with a sensor.
pub(super) const PATTERN_LEFT_OVER: f64 = -25.0;
/// One whose edges do come back, but not with the cycle: hardly anything does.
pub(super) const COMES_BACK_OTHERWISE: f64 = -11.5;
/// A lead seen over too few cycles to say whether it comes back, beside what its number of teeth is
/// worth.
pub(super) const TOO_FEW: f64 = -1.0;
/// No lead that goes like a wheel is the crank's: it is dead, unplugged or was not recorded, in one
/// capture of thirty (judgement).
pub(super) const NO_CRANK: f64 = -3.4;
/// A lead that is an output, taken for the crank.
pub(super) const OUTPUT_AS_CRANK: f64 = -9.0;

/// Odds that a header is right: on three of 35 public recordings it was wrong (counted by whoever
/// asked for this program).
pub(super) const HEADER_ODDS: f64 = 10.0;

/// Speeds of engines: cranking about 200 rpm, running about 1000, or anything.
const CRANKING: (f64, f64, f64) = (0.55, 205.0, 0.32);
const RUNNING: (f64, f64, f64) = (0.35, 1100.0, 0.6);
const ANY_SPEED: f64 = 0.1;
/// Speeds an engine can have, rpm.
pub(super) const SPEEDS: std::ops::Range<f64> = 40.0..9000.0;

/// A mean speed in rpm, per unit of its logarithm.
pub(super) fn speed(rpm: f64) -> f64 {
    let normal = |(share, middle, sd): (f64, f64, f64)| {
        let z = (rpm / middle).ln() / sd;
        share * (-0.5 * z * z).exp() / (sd * std::f64::consts::TAU.sqrt())
    };
    let any =
        if SPEEDS.contains(&rpm) { ANY_SPEED / (SPEEDS.end / SPEEDS.start).ln() } else { 1e-6 };
    (normal(CRANKING) + normal(RUNNING) + any).ln()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn gaps(slots: usize, at: &[(usize, usize)]) -> Base {
        let missing: usize = at.iter().map(|(_, gap)| gap - 1).sum();
        let mut counts = vec![1; slots - missing];
        for &(at, gap) in at {
            counts[at] = gap;
        }
        Base::Slots { plain: 1, counts }
    }

    #[test]
    fn an_extra_tooth_parts_one_step_and_groups_that_are_made_are_likelier_than_half_of_them() {
        let parts =
            |counts: &[usize]| crank_wheel(&Base::Slots { plain: 3, counts: counts.into() }, 1);
        assert!(parts(&[1, 2, 3, 3, 3]) - parts(&[1, 3, 2, 3, 3]) > 5.0);
        // Two groups of 20 teeth and 2 missing are met with; one wheel of 22 slots is not.
        let group = gaps(22, &[(19, 3)]);
        assert!(crank_wheel(&group, 2) > crank_wheel(&group, 1));
        // Thirty uneven teeth are slots.
        let five = Base::Uneven(vec![0.22, 0.22, 0.2, 0.19, 0.17]);
        assert!(crank_wheel(&five, 6) + 5.0 < crank_wheel(&five, 1));
    }

    #[test]
    fn usual_wheels_are_likelier_than_their_neighbours() {
        let sixty = crank_wheel(&gaps(60, &[(57, 3)]), 1);
        for other in [gaps(61, &[(57, 4)]), gaps(59, &[(57, 2)])] {
            assert!(sixty - crank_wheel(&other, 1) > 5.0, "{other:?}");
        }
        let two = crank_wheel(&gaps(36, &[(9, 3), (31, 3)]), 1);
        let four = gaps(70, &[(9, 2), (31, 2), (41, 3), (63, 3)]);
        assert!(two - crank_wheel(&four, 1) > 10.0);
        let thirds = crank_wheel(&gaps(12, &[(9, 3)]), 3);
        assert!(thirds < crank_wheel(&gaps(36, &[(33, 3)]), 1));
    }

    #[test]
    fn a_second_sensor_is_likelier_a_cam_than_a_mark_of_the_turn_but_not_sure_of_it() {
        let over = |marked: bool, named: bool| {
            let cam = cam_wheel(1, 1, Beside { marked, told: true }, named);
            cam - cam_wheel(2, 2, Beside { marked, told: false }, named)
        };
        assert!((1.0..3.0).contains(&over(false, false)), "{}", over(false, false));
        assert!(over(false, true) > over(false, false));
        assert!(over(true, false) > 2.0);
    }

    #[test]
    fn a_tooth_lost_every_time_is_thought_of_where_the_wheel_without_it_is_rare() {
        // 60-2 is as common as 60-1, 36-2-2 far more common than 36-3-2; a tooth that fills a gap
        // of one is beside none.
        assert!(with_a_tooth_lost(&gaps(60, &[(57, 3)]), 1, false) < 0.003);
        assert!(with_a_tooth_lost(&gaps(36, &[(9, 3), (30, 4)]), 1, false) > 0.1);
        assert_eq!(with_a_tooth_lost(&gaps(36, &[(9, 2)]), 1, true), 0.0);
        // Three gaps of two with a lone tooth, of which the second tooth after one is lost: beside
        // teeth that are lost now and then.
        let lost = gaps(36, &[(9, 3), (10, 3), (26, 3), (27, 2)]);
        assert!(with_a_tooth_lost(&lost, 1, true) > 0.1, "{}", with_a_tooth_lost(&lost, 1, true));
        // The one behind each of two gaps, where two missing are met with and three are not.
        let both = gaps(36, &[(8, 4), (29, 4)]);
        assert!(with_a_tooth_lost(&both, 1, false) > 0.1, "{}", with_a_tooth_lost(&both, 1, false));
    }

    #[test]
    fn an_engine_cranks_at_200_and_idles_at_1000_rather_than_at_half_or_twice_that() {
        for (usual, other) in [(200.0, 90.0), (200.0, 450.0), (1000.0, 4000.0), (100.0, 30.0)] {
            assert!(speed(usual) > speed(other), "{usual} {other}");
        }
    }
}
