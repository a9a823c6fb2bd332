//! What if no lead is the crank's?
//!
//! The lead may be dead, unplugged or not recorded, and a cam's wheel of few teeth is as good a
//! wheel as any: read as the crank's it has the engine turn at half its speed. So the captures in
//! which every lead that goes like a wheel is a cam's are weighed against the others.

use super::fold::{Back, Places, step_degrees};
use super::priors::{self, Beside};
use super::readings::Reading;
use super::votes::{Called, EdgeLead, Other, header, is_finer, vote};

/// Share of the teeth that a lead which goes like a wheel may lose.
const MOST_LOST: f64 = 0.15;
/// Like parts of a cam's wheel that are looked at.
const MOST_PARTS: usize = 4;

/// Cycles that last as long as each other to this share are one: a reading by the other edge of a
/// lead, or by another lead's teeth, differs by what the speed changes over some teeth.
const SAME_CYCLE: f64 = 0.03;

/// Log of the weight of each way to read the capture without a crank, and without headers: its
/// leads are cams', or what else they are, and a cycle lasts so long. By which lead and which of
/// its edges the cycle is told makes no other way: the likeliest stands for all. `least` is what
/// the best reading of each lead leaves unexplained; which leads go like wheels, and which have a
/// pattern.
pub(super) fn weights(
    leads: &[EdgeLead],
    all: &[Vec<Reading>],
    least: &[f64],
    (regular, patterned): (&[bool], &[bool]),
) -> Vec<(f64, f64)> {
    let mut weights: Vec<(f64, (f64, f64))> = Vec::new();
    for (lead, readings) in all.iter().enumerate() {
        for reading in readings {
            let others: Vec<(usize, Places)> = (0..leads.len())
                .filter(|&other| other != lead)
                .map(|other| (other, Places::of(leads[other].train, &reading.turned)))
                .collect();
            let teeth_a_second = reading.marks.at.len() as f64 / reading.fit.seconds.0;
            // A lead with a wheel's pattern, or that goes like a wheel and is finer than this one,
            // is the crank's: an engine has no other.
            let is_crank = |other: usize| {
                let like_a_wheel = all[other].iter().any(|one| one.is_regular_but_for(MOST_LOST));
                let finer = is_finer(leads[other].train, teeth_a_second);
                patterned[other] || like_a_wheel && finer
            };
            if (0..leads.len()).any(|other| other != lead && is_crank(other)) {
                continue;
            }
            for parts in 1..=MOST_PARTS {
                // Two turns of the crank in a period of the cam.
                let rpm = 120.0 / (reading.fit.seconds.0 * parts as f64);
                if !priors::SPEEDS.contains(&rpm) {
                    continue;
                }
                let teeth = reading.marks.at.len() * parts;
                let beside = Beside { marked: true, told: true };
                let mut weight = priors::NO_CRANK
                    + priors::cam_wheel(teeth, parts, beside, false)
                    + priors::speed(rpm)
                    - (reading.nats(parts) - least[lead]);
                let mut headers = header(leads[lead].called, Called::Cam);
                let step = 2.0 * step_degrees(reading.marks.period, parts);
                for (other, places) in &others {
                    let says = match places.come_back(parts as f64, step) {
                        Back::Every { teeth, parts } => Other::Cam { teeth, parts },
                        Back::TooFew { teeth } => Other::TooFew { teeth },
                        Back::Never if regular[*other] => Other::Otherwise,
                        Back::Never => Other::Not,
                    };
                    let finer = is_finer(leads[*other].train, teeth_a_second);
                    let (alone, named) = vote(says, beside, leads[*other].called, finer);
                    weight += alone;
                    headers += named;
                }
                weights.push((reading.fit.seconds.0 * parts as f64, (weight + headers, weight)));
            }
        }
    }
    weights.sort_by(|a, b| a.0.total_cmp(&b.0));
    let one = |alike: &[(f64, (f64, f64))]| {
        let likelier = |a: (f64, f64), b: (f64, f64)| (a.0.max(b.0), a.1.max(b.1));
        alike.iter().map(|way| way.1).reduce(likelier)
    };
    weights.chunk_by(|a, b| b.0 <= (1.0 + SAME_CYCLE) * a.0).filter_map(one).collect()
}
