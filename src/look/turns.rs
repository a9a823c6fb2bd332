//! How many periods of a pattern make a turn?

use super::answers::Answer;
use super::guess::{Doubt, Pair, PairReading};
use super::hypotheses::Weighed;
use super::votes::{EdgeLead, Other};
use super::wheels::{SURE, speeds};

/// How many periods make a turn is the only thing open: between which, and what it hangs on.
pub(super) fn turn_doubt(
    leads: &[EdgeLead],
    weighed: &Weighed,
    answers: &[Answer],
) -> Option<Doubt> {
    let best = answers.first()?;
    let reading = weighed.reading(&best.best);
    let alike = numbers_of_teeth(weighed, answers, best);
    let together: f64 = alike.iter().map(|(odds, _)| odds).sum();
    if odds_of(best, &alike) >= SURE || together < SURE {
        return None;
    }
    let clock = best.best.others.iter().find_map(|&(lead, other)| match other {
        Other::Cam { teeth, parts } => Some((lead, teeth, parts)),
        _ => None,
    });
    let Some((other, _, parts)) = clock else {
        return Some(Doubt::TeethPerTurn { repeats_after: reading.base.marks() });
    };
    // Periods after which the other lead comes back: it turns with the cam (two turns of the crank)
    // or with the crank (one).
    let periods = 2 * best.best.repeats / parts;
    let readings: Vec<PairReading> = alike
        .iter()
        .filter(|(odds, answer)| odds.max(answer.probability) >= 1.0 - SURE)
        .map(|&(odds, answer)| PairReading {
            teeth: answer.best.repeats * reading.base.marks(),
            rpm: speeds(reading, answer.best.repeats),
            with_cam: 2 * answer.best.repeats == periods,
            odds,
        })
        .collect();
    let train = leads[other].train;
    Some(Doubt::Pair(Box::new(Pair {
        lead: other,
        teeth: periods * reading.base.marks(),
        even: reading.base.is_even(),
        readings,
        places: super::pair::places(leads[best.best.lead].train, train, &reading.turned, periods),
        odds: together,
    })))
}

/// Every number of teeth a turn that the likeliest lead and pattern may have, with its odds. What is
/// rough about an even wheel's steps is its engine's, whatever their number: it does not count between
/// the numbers where no other lead tells the turns apart, and the speeds they would have do.
pub(super) fn numbers_of_teeth<'a>(
    weighed: &Weighed,
    answers: &'a [Answer],
    best: &Answer,
) -> Vec<(f64, &'a Answer)> {
    let reading = weighed.reading(&best.best);
    let alike: Vec<&Answer> = answers
        .iter()
        .filter(|answer| {
            answer.best.lead == best.best.lead
                && weighed.reading(&answer.best).base.same_as(&reading.base)
        })
        .collect();
    let told = best.best.others.iter().any(|(_, other)| other.tells_turns_apart());
    let rough = |answer: &Answer| weighed.reading(&answer.best).nats(answer.best.repeats);
    let weight = |answer: &Answer| {
        let smooth =
            if reading.base.is_even() && !told { rough(answer) - rough(best) } else { 0.0 };
        answer.probability * smooth.exp()
    };
    let together: f64 = alike.iter().map(|answer| answer.probability).sum();
    let all: f64 = alike.iter().map(|answer| weight(answer)).sum();
    alike.iter().map(|&answer| (together * weight(answer) / all, answer)).collect()
}

/// The odds of one answer among those.
pub(super) fn odds_of(one: &Answer, all: &[(f64, &Answer)]) -> f64 {
    let same = |answer: &Answer| answer.best.repeats == one.best.repeats;
    all.iter().find(|(_, answer)| same(answer)).map_or(one.probability, |(odds, _)| *odds)
}

#[cfg(test)]
mod tests {
    use super::super::votes::Called;
    use super::super::wheels::find;
    use super::*;
    use crate::edges::{Edge, EdgeTrain};
    use crate::units::Seconds;
    use crate::wheel::EdgeKind;

    /// When an engine of six cylinders that cranks at 158 rpm, its speed swinging by `swing`, has
    /// turned by each of these angles.
    fn times(angles: &[f64], swing: f64) -> Vec<f64> {
        const STEP: f64 = 1e-5;
        let (mut angle, mut time, mut all) = (0.0_f64, 0.0, Vec::new());
        for &next in angles {
            while angle < next {
                angle += STEP * 6.0 * 158.0 * (1.0 + swing * (3.0 * angle.to_radians()).sin());
                time += STEP;
            }
            all.push(time);
        }
        all
    }

    /// Even pulses, `each` degrees of the crank apart and a third of that long.
    fn even(each: f64, swing: f64) -> EdgeTrain {
        let angles: Vec<f64> = (0..(2.0 * 4000.0 / each) as usize)
            .map(|edge| each * ((edge / 2) as f64 + if edge % 2 == 1 { 1.0 / 3.0 } else { 0.1 }))
            .collect();
        let kinds = [EdgeKind::Rising, EdgeKind::Falling].into_iter().cycle();
        let edges = times(&angles, swing).into_iter().zip(kinds);
        EdgeTrain::square(
            edges.map(|(at, kind)| Edge { at: Seconds(at), kind }).collect(),
            Seconds(1e-5),
        )
    }

    #[test]
    fn a_swinging_speed_does_not_tell_twelve_teeth_from_twenty_four() {
        // Twenty-four teeth a turn, four even ones a cycle on the cam, an ignition line: all of it
        // is as well twelve teeth at twice the speed, two on the cam and three sparks.
        let swing = 0.2;
        let (crank, cam, sparks) = (even(15.0, swing), even(180.0, swing), even(120.0, swing));
        let lead = |train| EdgeLead { train, called: Called::Nothing, asked: false };
        let found = find(&[lead(&crank), lead(&cam), lead(&sparks)]);
        assert_eq!(found.lead, Some(0));
        match found.wheel {
            Err(Doubt::Pair(pair)) => {
                let teeth: Vec<usize> = pair.readings.iter().map(|one| one.teeth).collect();
                assert!(teeth.contains(&12) && teeth.contains(&24), "{teeth:?}");
            }
            Err(Doubt::NotSure { odds, .. }) => assert!(odds < 0.95, "{odds}"),
            other => panic!("{other:?}"),
        }
    }
}
