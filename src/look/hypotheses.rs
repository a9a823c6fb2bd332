//! Which lead is the crank, what is its wheel, and how many of its periods make a turn? All of it
//! weighed at once.
//!
//! A hypothesis names the lead, a reading of it and a number of repeats. It pays for how unusual
//! its wheel and its speed are, for what the wheel leaves unexplained, and for every other lead: a
//! cam's edges come back once a cycle, and a turn in which every cam repeats itself whole times is
//! half a cycle too long. Costs are logarithms of probabilities, so that what is left over for all
//! other answers is the doubt.

use statrs::function::beta::beta_reg;

use super::crankless;
use super::fold::{Back, Places, step_degrees};
use super::output::{Output, output};
use super::priors::{self, Beside};
use super::readings::{Reading, lossy_readings, readings};
use super::votes::{Called, EdgeLead, Other, header, is_finer, vote};
use crate::edges::EdgeTrain;

/// A hypothesis.
#[derive(Debug, Clone)]
pub(super) struct Hypothesis {
    /// Index of the lead taken for the crank.
    pub lead: usize,
    /// Index of its reading.
    pub reading: usize,
    /// Periods in a turn.
    pub repeats: usize,
    /// Log of its weight, and without what headers say.
    pub weight: (f64, f64),
    /// Every other lead, by index.
    pub others: Vec<(usize, Other)>,
    /// Weight kept for wheels that nobody thought of, against this one: more where a lead is left
    /// over.
    pub unthought: f64,
}

/// All hypotheses with the readings they are made of.
#[derive(Debug, Clone)]
pub(super) struct Weighed {
    /// Readings of each lead.
    pub readings: Vec<Vec<Reading>>,
    /// Hypotheses, likeliest first.
    pub hypotheses: Vec<Hypothesis>,
    /// Log of the weight of each way in which no lead is the crank's, and without headers.
    pub crankless: Vec<(f64, f64)>,
}

/// Most teeth of an even wheel, and most slots of any.
const MOST_TEETH: usize = 180;
const MOST_SLOTS: usize = 180;
/// Most times a pattern that is not even comes in a turn.
const MOST_REPEATS: usize = 8;
/// Weight kept for wheels that nobody thought of, against the likeliest.
const UNTHOUGHT: f64 = 2e-4;
/// The same where a finer lead is left without an explanation: it is the crank as often whose wheel
/// was not made out, one time in twenty (judgement).
const UNTHOUGHT_FINER: f64 = 0.05;
/// And where a lead is left over that nothing but a crank's wheel makes, for it has a wheel's
/// pattern, or goes like a wheel and is finer: nobody made it out, as likely as not (judgement).
const UNTHOUGHT_CRANK: f64 = 1.0;

/// Weighs every way to read the leads.
pub(super) fn weigh(leads: &[EdgeLead]) -> Weighed {
    let mut all: Vec<Vec<Reading>> = leads.iter().map(|lead| readings(lead.train)).collect();
    let lossy: Vec<Vec<Reading>> = (0..leads.len())
        .map(|lead| {
            let clocks: Vec<_> = (0..leads.len())
                .filter(|&other| other != lead)
                .filter_map(|other| Some(&steadiest(&all[other])?.turned))
                .collect();
            lossy_readings(leads[lead].train, &clocks)
        })
        .collect();
    for (readings, more) in all.iter_mut().zip(lossy) {
        readings.extend(more);
    }
    let asked = leads.iter().any(|lead| lead.asked);
    let regular: Vec<bool> =
        all.iter().map(|readings| readings.iter().any(Reading::is_regular)).collect();
    // A pattern that repeats is a wheel's, however long its pulses last: sensors that send a pulse
    // of fixed length for each tooth are common.
    let patterned: Vec<bool> =
        all.iter().map(|readings| readings.iter().any(Reading::is_patterned)).collect();
    let outputs: Vec<bool> =
        (0..leads.len()).map(|lead| !patterned[lead] && is_output(leads, &all, lead)).collect();
    // Leads differ in how much there is to explain: what the best reading of each leaves is no
    // evidence for another lead. The way back between teeth is none of its readings.
    let least: Vec<f64> = all
        .iter()
        .map(|readings| {
            let marking = readings.iter().filter(|one| !is_way_back(one, readings));
            let each = marking.flat_map(|one| (1..=2).map(|repeats| one.nats(repeats)));
            each.fold(f64::INFINITY, f64::min)
        })
        .collect();
    // A lead that is called the crank was recorded as such: that there is none is not asked then.
    let called = leads.iter().any(|lead| lead.called == Called::Crank);
    let crankless = if asked || called {
        Vec::new()
    } else {
        crankless::weights(leads, &all, &least, (&regular, &patterned))
    };
    let mut hypotheses = Vec::new();
    for (lead, readings) in all.iter().enumerate() {
        if asked && !leads[lead].asked {
            continue;
        }
        let least = least[lead];
        for (index, reading) in readings.iter().enumerate() {
            if is_way_back(reading, readings) {
                continue;
            }
            let mut more = of_reading(leads, lead, index, reading, least, (&regular, &patterned));
            if outputs[lead] && !leads[lead].asked {
                for one in &mut more {
                    one.weight.0 += priors::OUTPUT_AS_CRANK;
                    one.weight.1 += priors::OUTPUT_AS_CRANK;
                }
            }
            hypotheses.extend(more);
        }
    }
    hypotheses.sort_by(|a, b| b.weight.0.total_cmp(&a.weight.0));
    Weighed { readings: all, hypotheses, crankless }
}

/// Whether a lead is an output by the angle of any other lead that goes like a wheel.
fn is_output(leads: &[EdgeLead], all: &[Vec<Reading>], lead: usize) -> bool {
    let rest: Vec<&EdgeTrain> =
        (0..leads.len()).filter(|&other| other != lead).map(|other| leads[other].train).collect();
    (0..leads.len()).filter(|&other| other != lead).any(|other| {
        let clock = all[other].iter().find(|reading| reading.is_regular());
        clock.is_some_and(|clock| output(leads[lead].train, &clock.turned, &rest).is_some())
    })
}

/// Whether the other slope of the same lead shows one gap where this one shows a lone tooth between
/// two: a tooth has two sides, and both slopes would show it.
fn is_way_back(reading: &Reading, all: &[Reading]) -> bool {
    all.iter().any(|other| {
        other.kind != reading.kind && !other.lossy && reading.base.is_way_back_of(&other.base)
    })
}

/// The reading of a lead that leaves least unexplained and loses nothing, to tell time by.
fn steadiest(readings: &[Reading]) -> Option<&Reading> {
    readings.iter().filter(|reading| !reading.base.is_even()).min_by(|a, b| {
        let cost = |reading: &Reading| reading.nats(1) - priors::crank_wheel(&reading.base, 1);
        cost(a).total_cmp(&cost(b))
    })
}

fn of_reading(
    leads: &[EdgeLead],
    lead: usize,
    index: usize,
    reading: &Reading,
    least: f64,
    (regular, patterned): (&[bool], &[bool]),
) -> Vec<Hypothesis> {
    let trains: Vec<&EdgeTrain> = leads.iter().map(|lead| lead.train).collect();
    let others: Vec<(usize, Places, Option<Output>)> = (0..leads.len())
        .filter(|&other| other != lead)
        .map(|other| {
            let places = Places::of(trains[other], &reading.turned);
            let rest: Vec<&EdgeTrain> =
                (0..leads.len()).filter(|&one| one != other).map(|one| trains[one]).collect();
            let output = output(trains[other], &reading.turned, &rest);
            (other, places, output.filter(|_| !patterned[other]))
        })
        .collect();
    let slots = reading.base.slots();
    let most = if reading.base.is_even() {
        MOST_TEETH
    } else {
        MOST_REPEATS.min(MOST_SLOTS / slots.max(1)).max(1)
    };
    let back = |places: &Places, repeats: usize| {
        places.come_back(2.0 * repeats as f64, step_degrees(reading.marks.period, repeats))
    };
    let ever: Vec<bool> = others
        .iter()
        .map(|(_, places, _)| {
            (1..=most).any(|repeats| matches!(back(places, repeats), Back::Every { .. }))
        })
        .collect();
    (1..=most)
        .filter_map(|repeats| {
            let rpm = 60.0 / (reading.fit.seconds.0 * repeats as f64);
            if !priors::SPEEDS.contains(&rpm) || has_unseen_tooth(reading, repeats) {
                return None;
            }
            let mut weight = priors::crank_wheel(&reading.base, repeats)
                - (reading.nats(repeats) - least)
                + priors::speed(rpm);
            let mut headers = header(leads[lead].called, Called::Crank);
            let seen: Vec<(usize, Other)> = others
                .iter()
                .zip(&ever)
                .map(|((other, places, output), &ever)| {
                    let says = match (output, back(places, repeats)) {
                        (Some(output), _) => Other::Output(*output),
                        (None, Back::Every { teeth, parts }) => Other::Cam { teeth, parts },
                        // A pattern that was seen time and again is not too short to come back.
                        (None, Back::Never | Back::TooFew { .. }) if patterned[*other] => {
                            Other::LeftOver
                        }
                        (None, Back::Never) if ever || regular[*other] => Other::Otherwise,
                        (None, Back::Never) => Other::Not,
                        (None, Back::TooFew { teeth }) => Other::TooFew { teeth },
                    };
                    (*other, says)
                })
                .collect();
            let told = seen.iter().any(|(_, says)| says.tells_turns_apart());
            let speed = reading.marks.at.len() as f64 / reading.fit.seconds.0;
            let mut unthought = UNTHOUGHT;
            // That nothing tells the turns apart is said of an engine once, not of each of its cams.
            let mut said = told;
            for &(other, says) in &seen {
                let beside = Beside { marked: !reading.base.is_even(), told: said };
                said |= matches!(says, Other::Cam { .. });
                let finer = is_finer(trains[other], speed);
                let (alone, named) = vote(says, beside, leads[other].called, finer);
                weight += alone;
                headers += named;
                unthought = unthought.max(match says {
                    Other::LeftOver => UNTHOUGHT_CRANK,
                    Other::Otherwise if finer => UNTHOUGHT_CRANK,
                    Other::Not if finer => UNTHOUGHT_FINER,
                    _ => UNTHOUGHT,
                });
            }
            // Two headers exchanged are one mistake and not two.
            let other_is_called_crank = seen.iter().any(|&(other, says)| {
                leads[other].called == Called::Crank && matches!(says, Other::Cam { .. })
            });
            if leads[lead].called == Called::Cam && other_is_called_crank {
                headers -= header(Called::Crank, Called::Cam);
            }
            Some(Hypothesis {
                lead,
                reading: index,
                repeats,
                weight: (weight + headers, weight),
                others: seen,
                unthought,
            })
        })
        .collect()
}

/// Fewest passes that show whether a slot holds a tooth.
const LEAST_PASSES: usize = 3;
/// A slot that shows its tooth in less than this share of the passes may hold none (judgement).
const SELDOM: f64 = 0.3;
/// A conditioner loses the tooth after a gap every other turn (domain: half-lost teeth). One that
/// is lost so often shows as seldom as it does with no more than this probability.
const LOST_BY_CHANCE: f64 = 0.02;

/// Whether a slot of the pattern that should hold a tooth hardly ever does. That slot is a gap
/// then, and the wheel is another one that is weighed as well.
fn has_unseen_tooth(reading: &Reading, repeats: usize) -> bool {
    let slots = matches!(reading.base, super::base::Base::Slots { .. });
    slots && reading.fit.seen(repeats).iter().any(|&(hits, passes)| is_unseen(hits, passes))
}

fn is_unseen(hits: usize, passes: usize) -> bool {
    let (seen, all) = (hits as f64, passes as f64);
    if passes < LEAST_PASSES || seen >= SELDOM * all {
        return false;
    }
    // The binomial probability of so many or fewer, at even odds.
    hits == 0 || beta_reg(all - seen, seen + 1.0, 0.5) <= LOST_BY_CHANCE
}

impl Weighed {
    /// The reading of a hypothesis.
    pub fn reading(&self, of: &Hypothesis) -> &Reading {
        &self.readings[of.lead][of.reading]
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::edges::Edge;
    use crate::units::Seconds;
    use crate::wheel::EdgeKind;

    /// Pulses of a third of a step, so many a turn of 0.3 s, with every tenth a little off.
    fn train(teeth_a_turn: f64, teeth: usize) -> EdgeTrain {
        let edge = |index: usize| {
            let (tooth, falls) = (index / 2, index % 2 == 1);
            let off = if tooth.is_multiple_of(10) { 0.01 } else { 0.0 };
            let place = tooth as f64 + off + if falls { 1.0 / 3.0 } else { 0.0 };
            let kind = if falls { EdgeKind::Falling } else { EdgeKind::Rising };
            Edge { at: Seconds(0.05 + 0.3 * place / teeth_a_turn), kind }
        };
        EdgeTrain::square((0..2 * teeth).map(edge).collect(), Seconds(1e-5))
    }

    #[test]
    fn two_headers_exchanged_are_one_mistake() {
        let (crank, cam) = (train(12.0, 360), train(0.5, 15));
        let headers = |called: [Called; 2]| {
            let lead = |train, called| EdgeLead { train, called, asked: false };
            let all = weigh(&[lead(&crank, called[0]), lead(&cam, called[1])]).hypotheses;
            let cam = |one: &Hypothesis| matches!(one.others[0].1, Other::Cam { .. });
            let twelve = all.iter().find(|one| one.lead == 0 && one.repeats == 12 && cam(one));
            let weight = twelve.expect("twelve even teeth").weight;
            weight.0 - weight.1
        };
        let one = -priors::HEADER_ODDS.ln();
        assert!((headers([Called::Cam, Called::Nothing]) - one).abs() < 1e-9);
        assert!((headers([Called::Cam, Called::Crank]) - one).abs() < 1e-9);
        assert!(headers([Called::Crank, Called::Cam]) > -1e-9);
    }

    #[test]
    fn that_nothing_tells_the_turns_apart_is_paid_for_once() {
        let (crank, cam) = (train(24.0, 720), train(2.0, 60));
        let lead = |train| EdgeLead { train, called: Called::Nothing, asked: false };
        let of = |cams: &[EdgeLead]| {
            let all = weigh(&[&[lead(&crank)], cams].concat()).hypotheses;
            all.iter().find(|one| one.lead == 0 && one.repeats == 24).expect("24").weight.0
        };
        let second = of(&[lead(&cam), lead(&cam)]) - of(&[lead(&cam)]);
        let beside = Beside { marked: false, told: true };
        let cam = Other::Cam { teeth: 4, parts: 4 };
        let (once, _) = vote(cam, beside, Called::Nothing, false);
        assert!((second - once).abs() < 1e-9, "{second} and {once}");
    }

    #[test]
    fn a_tooth_lost_every_other_turn_is_weighed_and_one_that_an_accident_shows_is_not() {
        // Of 13 passes at even odds: 3 or fewer 378/8192, 2 or fewer 92/8192.
        assert!(!is_unseen(3, 13));
        assert!(is_unseen(2, 13));
        assert!(is_unseen(0, 3));
        assert!(!is_unseen(0, 2));
        assert!(!is_unseen(15, 50));
    }
}
