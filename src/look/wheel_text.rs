//! A wheel that was found, written as wheel files and engine files write it.

use super::steps::Slots;
use crate::units::TURN_DEG;
use crate::wheel::{Form, LIBRARY, Wheel, parse_wheel};

/// A wheel and the value that stands for it after `wheel = `.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Written {
    pub wheel: Wheel,
    /// Library name, notation, or an inline table.
    pub value: String,
    /// What to call it on screen.
    pub name: String,
}

/// Edges this far apart on average are of another wheel, in shaft degrees: speed ripple of ±25 % twice a turn, which
/// cannot be told from the wheel, moves an edge by 3.6°.
const MOST_EDGE_MISFIT: f64 = 6.0;
/// The next best wheel must be this much worse, in shaft degrees.
const CLEARLY_WORSE: f64 = 3.0;

/// Wheels of this many teeth or fewer are coarse.
pub(super) const COARSE: usize = 16;

/// Every library wheel, read.
pub(super) fn library() -> Vec<Written> {
    LIBRARY
        .iter()
        .filter_map(|entry| {
            let wheel = parse_wheel(entry.text, entry.name).ok()?;
            Some(Written { wheel, value: quoted(entry.name), name: entry.name.to_owned() })
        })
        .collect()
}

/// Places of an edge nearer than this are one, in shaft degrees: wheels of many teeth are cut to whole slots or degrees
/// (judgement).
const EDGE_PLACE_DEG: f64 = 1.0;
/// One wheel in twenty is of a kind with several gaps that is not in the library (judgement).
const UNLISTED: f64 = 0.05;

impl Written {
    /// Logarithm of how likely a wheel is before it is seen, against one of the library or with one gap. A wheel of
    /// several gaps that is not in the library is one of as many as there are ways to take its teeth away; one of many
    /// uneven teeth, of as many as there are ways to place their edges. Those were read off the very turns they are held
    /// against, speed ripple and all, and would fit better than the true wheel.
    pub fn log_prior(&self) -> f64 {
        let (slots, missing) = match self.wheel.form() {
            Form::Slots { slots, missing, .. } => (slots, missing),
            Form::Teeth(teeth) if teeth.len() > COARSE => {
                return self.log_prior_of_teeth(teeth.len());
            }
            Form::Teeth(_) => return 0.0,
        };
        let gaps =
            counts(&self.wheel).map_or(0, |counts| counts.iter().filter(|&&c| c > 1).count());
        let listed = library().iter().any(|known| known.name == self.name);
        if listed || gaps < 2 {
            return 0.0;
        }
        // ln of the binomial coefficient, factor by factor.
        let ways: f64 = (1..=missing.len())
            .map(|k| (f64::from(*slots) - (k - 1) as f64) / k as f64)
            .map(f64::ln)
            .sum();
        UNLISTED.ln() - ways
    }

    fn log_prior_of_teeth(&self, teeth: usize) -> f64 {
        if library().iter().any(|known| known.name == self.name) {
            return 0.0;
        }
        let edges = 2.0 * teeth as f64;
        UNLISTED.ln() - edges * (TURN_DEG / edges / EDGE_PLACE_DEG).ln()
    }
}

fn quoted(text: &str) -> String {
    format!("\"{text}\"")
}

/// Slots from tooth to tooth of a slot wheel.
fn counts(wheel: &Wheel) -> Option<Vec<usize>> {
    let Form::Slots { slots, missing, .. } = wheel.form() else { return None };
    let teeth: Vec<usize> = (1..=*slots)
        .filter(|slot| missing.binary_search(slot).is_err())
        .map(|slot| slot as usize)
        .collect();
    let next = teeth.iter().skip(1).copied().chain([teeth[0] + *slots as usize]);
    Some(teeth.iter().zip(next).map(|(from, to)| to - from).collect())
}

fn same_turned(a: &[usize], b: &[usize]) -> bool {
    a.len() == b.len() && (0..a.len()).any(|by| (0..a.len()).all(|i| a[i] == b[(i + by) % b.len()]))
}

/// The wheel of equal slots: from the library when one has the same gaps, else by notation or slot by slot.
pub(super) fn of_slots(slots: &Slots) -> Option<Written> {
    let known = library().into_iter().find(|entry| {
        counts(&entry.wheel).is_some_and(|counts| same_turned(&counts, &slots.counts))
    });
    if known.is_some() {
        return known;
    }
    // The datum is the first tooth after the longest gap.
    let longest = (0..slots.counts.len()).max_by_key(|&i| slots.counts[i])?;
    let all: usize = slots.counts.iter().sum();
    let mut missing = Vec::new();
    let mut at = 1;
    for i in 0..slots.counts.len() {
        let step = slots.counts[(longest + 1 + i) % slots.counts.len()];
        missing.extend(at + 1..at + step);
        at += step;
    }
    let one_gap = slots.counts.iter().filter(|&&count| count > 1).count() <= 1;
    if one_gap {
        let name =
            if missing.is_empty() { all.to_string() } else { format!("{all}-{}", missing.len()) };
        let text = format!("name = \"{name}\"\nslots = {all}\nmissing = {missing:?}\n");
        return Some(Written {
            wheel: parse_wheel(&text, &name).ok()?,
            value: quoted(&name),
            name,
        });
    }
    let name = format!("{all} slots, missing {}", list(&missing));
    let keys = format!("slots = {all}, missing = {missing:?}");
    let text = format!("name = \"{name}\"\nslots = {all}\nmissing = {missing:?}\n");
    let wheel = parse_wheel(&text, &name).ok()?;
    Some(Written { wheel, value: format!("{{ name = \"{name}\", {keys} }}"), name })
}

/// Wheels that are near another and could be taken for it: a gap one slot longer or shorter, and the library
/// wheels with about as many teeth. An even wheel that misses the same teeth in every turn is no rival: it is the same wheel. `even`: it has no gap itself.
pub(super) fn rivals(of: &Written, even: bool, reluctance: bool) -> Vec<Written> {
    let teeth = of.wheel.tooth_count();
    let apart = (teeth / 10).max(1);
    let mut rivals: Vec<Written> = library()
        .into_iter()
        .filter(|other| {
            other.wheel.form() != of.wheel.form()
                && other.wheel.tooth_count().abs_diff(teeth) <= apart
        })
        .collect();
    // On a coarse wheel the speed may change by a third between teeth, and the search cannot weigh one slot more or
    // less; there the steps of the mean turn have said it.
    if let Some(own) = counts(&of.wheel).filter(|own| !even && own.len() > COARSE) {
        let longest = (0..own.len()).max_by_key(|&i| own[i]).unwrap_or(0);
        let with_gap = |slots: usize| {
            let mut counts = own.clone();
            counts[longest] = slots;
            of_slots(&Slots { counts })
        };
        let gap = own[longest];
        // A reluctance sensor's step over a gap reads up to a third of a slot long and never short (captures README).
        if !reluctance {
            rivals.extend(with_gap(gap + 1));
        }
        rivals.extend(with_gap(gap - 1));
    }
    rivals.retain(|rival| rival.wheel.form() != of.wheel.form());
    rivals
}

fn list(slots: &[usize]) -> String {
    slots.iter().map(usize::to_string).collect::<Vec<_>>().join(", ")
}

/// The library wheel of listed teeth whose edges lie where these do, whichever way up the signal is. `edges`: (degrees,
/// rises) of one turn in order.
pub(super) fn of_library_teeth(edges: &[(f64, bool)]) -> Option<Written> {
    let mut fits: Vec<(f64, Written)> = library()
        .into_iter()
        .filter(|entry| matches!(entry.wheel.form(), Form::Teeth(_)))
        .filter_map(|entry| Some((edge_misfit(edges, &entry.wheel)?, entry)))
        .collect();
    fits.sort_by(|a, b| a.0.total_cmp(&b.0));
    let next = fits.get(1).map_or(f64::INFINITY, |fit| fit.0);
    let (misfit, best) = fits.into_iter().next()?;
    (misfit <= MOST_EDGE_MISFIT && next >= misfit + CLEARLY_WORSE).then_some(best)
}

/// Root mean square distance of edges from a wheel's, at the best rotation and polarity.
fn edge_misfit(edges: &[(f64, bool)], wheel: &Wheel) -> Option<f64> {
    let theirs: Vec<(f64, bool)> = wheel
        .square_edges(crate::wheel::EdgeKind::Falling)
        .iter()
        .map(|edge| (edge.at.get(), edge.kind == crate::wheel::EdgeKind::Rising))
        .collect();
    if theirs.len() != edges.len() {
        return None;
    }
    let count = edges.len();
    (0..count)
        .map(|by| {
            let off: Vec<f64> = (0..count)
                .map(|i| {
                    let their = theirs[(i + by) % count].0 - theirs[by].0;
                    (edges[i].0 - edges[0].0) - their.rem_euclid(TURN_DEG)
                })
                .collect();
            let mean = off.iter().sum::<f64>() / count as f64;
            (off.iter().map(|off| (off - mean).powi(2)).sum::<f64>() / count as f64).sqrt()
        })
        .min_by(f64::total_cmp)
}

/// A wheel of listed teeth, the first beginning at 0 after the longest low part. `edges`: (degrees, rises).
pub(super) fn of_teeth(edges: &[(f64, bool)]) -> Option<Written> {
    let count = edges.len();
    let gap_before =
        |i: usize| (edges[i].0 - edges[(i + count - 1) % count].0).rem_euclid(TURN_DEG);
    let first = (0..count)
        .filter(|&i| edges[i].1)
        .max_by(|&a, &b| gap_before(a).total_cmp(&gap_before(b)))?;
    let angle = |i: usize| (edges[i % count].0 - edges[first].0).rem_euclid(TURN_DEG);
    let teeth: Vec<(f64, f64)> =
        (0..count / 2).map(|k| (angle(first + 2 * k), angle(first + 2 * k + 1))).collect();
    let table = teeth_table(&teeth);
    let name = format!("{} uneven teeth", teeth.len());
    let wheel = parse_wheel(&format!("name = \"{name}\"\nteeth = {table}\n"), &name).ok()?;
    Some(Written { wheel, value: format!("{{ name = \"{name}\", teeth = {table} }}"), name })
}

/// A list of teeth as wheel files write it, to a tenth of a degree.
pub(super) fn teeth_table(teeth: &[(f64, f64)]) -> String {
    let rows = teeth.iter().map(|(start, end)| format!("{{ start = {start:.1}, end = {end:.1} }}"));
    format!("[ {} ]", rows.collect::<Vec<_>>().join(", "))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn found(counts: &[usize]) -> Written {
        of_slots(&Slots { counts: counts.to_vec() }).expect("a wheel")
    }

    #[test]
    fn slot_wheels_are_named_from_wherever_they_are_seen() {
        let mut counts = vec![1; 34];
        counts[12] = 3;
        assert_eq!(found(&counts).name, "36-2");
        let mut sixty = vec![1; 57];
        sixty.push(3);
        assert_eq!(found(&sixty).value, "\"60-2\"");
        assert_eq!(found(&[1; 8]).name, "8");
        let mut unknown = vec![1; 20];
        (unknown[3], unknown[9]) = (4, 2);
        let written = found(&unknown);
        assert_eq!(written.wheel.tooth_count(), 20);
        let Form::Slots { slots, missing, .. } = written.wheel.form() else { panic!("slots") };
        // After the longest gap: 6 teeth on, slot 7 is missing; three at the end.
        assert_eq!((*slots, missing.as_slice()), (24, &[7, 22, 23, 24][..]));
    }

    #[test]
    fn a_strange_wheel_of_several_gaps_is_one_of_many() {
        let mut counts = vec![1; 34];
        counts[12] = 3;
        assert_eq!(found(&counts).log_prior(), 0.0, "36-2 is in the library");
        let mut strange = vec![1; 20];
        (strange[3], strange[9]) = (4, 2);
        // 24 slots less 4: 24 over 4 is 10,626 (Abramowitz and Stegun, table 24.1).
        let want = (0.05_f64 / 10_626.0).ln();
        assert!((found(&strange).log_prior() - want).abs() < 1e-9);
        // Thirty uneven teeth: 60 edges, each in one of 6 places.
        let edges: Vec<(f64, bool)> = (0..60)
            .map(|i| (f64::from(i) * 6.0 + if i == 7 { 2.0 } else { 0.0 }, i % 2 == 0))
            .collect();
        let want = 0.05_f64.ln() - 60.0 * 6.0_f64.ln();
        assert!((of_teeth(&edges).expect("teeth").log_prior() - want).abs() < 1e-9);
    }

    #[test]
    fn uneven_teeth_are_recognised_turned_and_upside_down() {
        // three-uneven turned by 40°, and 2° of error on one edge.
        let edges = [
            (40.0, true),
            (70.0, false),
            (130.0, true),
            (192.0, false),
            (290.0, true),
            (305.0, false),
        ];
        assert_eq!(of_library_teeth(&edges).expect("known").name, "three-uneven");
        let turned: Vec<(f64, bool)> = edges.iter().map(|&(at, rises)| (at, !rises)).collect();
        assert_eq!(of_library_teeth(&turned).expect("known").name, "three-uneven");
        let strange = [
            (0.0, true),
            (100.0, false),
            (130.0, true),
            (150.0, false),
            (200.0, true),
            (300.0, false),
        ];
        assert!(of_library_teeth(&strange).is_none());
        assert_eq!(of_teeth(&strange).expect("teeth").wheel.tooth_count(), 3);
    }
}
