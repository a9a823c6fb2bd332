//! A wheel that was found, written as wheel files and engine files write it.

use crate::units::TURN_DEG;
use crate::wheel::{EdgeKind, Form, LIBRARY, Wheel, parse_wheel};

/// A wheel and the value that stands for it after `wheel = `.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Written {
    pub wheel: Wheel,
    /// Library name, notation, or an inline table.
    pub value: String,
    /// What to call it on screen.
    pub name: String,
}

/// Edges this far apart on average are of another wheel, in shaft degrees: speed ripple of ±25 %
/// twice a turn, which cannot be told from the wheel, moves an edge by 3.6°.
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

/// The wheel of equal slots, given from each tooth to the next: from the library when one has the
/// same gaps, else by notation or slot by slot.
pub(super) fn of_slots(steps: &[usize]) -> Option<Written> {
    if let Some(known) = of_library_slots(steps) {
        return Some(known);
    }
    // The datum is the first tooth after the longest gap.
    let longest = (0..steps.len()).max_by_key(|&i| steps[i])?;
    let (all, missing) = from_tooth(steps, longest + 1);
    let one_gap = steps.iter().filter(|&&step| step > 1).count() <= 1;
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
    slot_by_slot(format!("{all} slots, missing {}", list(&missing)), all, &missing)
}

/// A wheel of even teeth with one more between two of them. The datum is the tooth before the extra
/// one.
pub(super) fn extra_tooth(plain: usize, steps: &[usize]) -> Option<Written> {
    if let Some(known) = of_library_slots(steps) {
        return Some(known);
    }
    let count = steps.len();
    let first =
        (0..count).find(|&i| steps[i] < plain && steps[(i + count - 1) % count] >= plain)?;
    let (all, missing) = from_tooth(steps, first);
    let parts = steps.iter().filter(|&&step| step < plain).count();
    let name = if parts == 2 && steps.iter().all(|&step| step <= plain) {
        format!("{}+1", count - 1)
    } else {
        format!("{all} slots, missing {}", list(&missing))
    };
    slot_by_slot(name, all, &missing)
}

/// All slots and those without a tooth, counted from 1 at a tooth.
fn from_tooth(steps: &[usize], tooth: usize) -> (usize, Vec<usize>) {
    let mut missing = Vec::new();
    let mut at = 1;
    for i in 0..steps.len() {
        let step = steps[(tooth + i) % steps.len()];
        missing.extend(at + 1..at + step);
        at += step;
    }
    (at - 1, missing)
}

fn slot_by_slot(name: String, all: usize, missing: &[usize]) -> Option<Written> {
    let text = format!("name = \"{name}\"\nslots = {all}\nmissing = {missing:?}\n");
    let wheel = parse_wheel(&text, &name).ok()?;
    let value = format!("{{ name = \"{name}\", slots = {all}, missing = {missing:?} }}");
    Some(Written { wheel, value, name })
}

fn of_library_slots(steps: &[usize]) -> Option<Written> {
    library()
        .into_iter()
        .find(|entry| counts(&entry.wheel).is_some_and(|counts| same_turned(&counts, steps)))
}

fn list(slots: &[usize]) -> String {
    slots.iter().map(usize::to_string).collect::<Vec<_>>().join(", ")
}

/// The library wheel of listed teeth whose edges lie where these do, whichever way up the signal
/// is. `edges`: (degrees, rises) of one turn in order.
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

/// Whether a wheel is one of the library's.
pub(super) fn in_library(written: &Written) -> bool {
    LIBRARY.iter().any(|entry| entry.name == written.name)
}

/// Whether two descriptions are of one wheel: by name, or, of a coarse one, by where its edges lie,
/// as far as the speed's ripple lets that be seen.
pub(super) fn same_wheel(a: &Written, b: &Written) -> bool {
    let edges = square_edges(&a.wheel);
    a.name == b.name
        || a.wheel.tooth_count() <= COARSE
            && edge_misfit(&edges, &b.wheel).is_some_and(|misfit| misfit <= MOST_EDGE_MISFIT)
}

/// Edges of a wheel in order: degrees, and whether the signal rises.
fn square_edges(wheel: &Wheel) -> Vec<(f64, bool)> {
    let edges = wheel.square_edges(EdgeKind::Falling);
    edges.iter().map(|edge| (edge.at.get(), edge.kind == EdgeKind::Rising)).collect()
}

/// Root mean square distance of edges from a wheel's, at the best rotation and polarity.
fn edge_misfit(edges: &[(f64, bool)], wheel: &Wheel) -> Option<f64> {
    let theirs = square_edges(wheel);
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

/// A wheel of listed teeth, the first beginning at 0 after the longest low part. `edges`: (degrees,
/// rises).
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
        of_slots(counts).expect("a wheel")
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
    fn an_extra_tooth_is_counted_from_the_tooth_before_it() {
        let mut half = vec![2; 11];
        half.extend([1, 1]);
        assert_eq!(extra_tooth(2, &half).expect("known").name, "12-plus-1");
        let mut third = vec![3; 11];
        third.insert(4, 1);
        third.insert(5, 2);
        let written = extra_tooth(3, &third).expect("a wheel");
        let Form::Slots { slots, missing, .. } = written.wheel.form() else { panic!("slots") };
        assert_eq!((written.name.as_str(), *slots, written.wheel.tooth_count()), ("12+1", 36, 13));
        assert!(!missing.contains(&1) && !missing.contains(&2) && missing.contains(&3));
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
