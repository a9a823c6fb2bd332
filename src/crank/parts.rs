//! Of a long train, the parts that may be a wheel's.
//!
//! A lead that carries minutes of noise would be searched for minutes: nothing is cheaper than
//! anything else there, so that every path stays alive. Where the intervals differ from those one
//! period of the wheel before as if each were drawn at random, there is nothing to search for.

use std::ops::Range;

use super::habits::Habits;
use super::marks::Marks;
use super::noise::LEAST_SPREAD;
use super::search::Search;
use super::stretch::Stretch;
use crate::stats::{MAD_TO_SD, median};

/// Trains of fewer edges are searched whole: four seconds at most.
pub(super) const LONG: usize = 8000;
/// Edges that are judged together: seconds of a fine wheel.
const BLOCK: usize = 1000;

/// The stretches of the cheapest path with these habits, in order of time.
pub(super) fn search(marks: &Marks, habits: Habits) -> Vec<Stretch> {
    let mut stretches = Vec::new();
    for part in parts(marks) {
        let edges = marks.edges.part(part.clone());
        let marks = Marks { edges, pattern: marks.pattern.clone() };
        let mut search = Search::new(&marks, habits, true);
        search.run();
        let mut found = Stretch::all_of(search.path(), &marks);
        for tooth in found.iter_mut().flat_map(|stretch| &mut stretch.teeth) {
            tooth.edge += part.start as u32;
        }
        stretches.extend(found);
    }
    stretches
}

/// The parts of a long train that are not noise, with a block on each side; all of a short one.
fn parts(marks: &Marks) -> Vec<Range<usize>> {
    let edges = marks.edges.len();
    let mut parts: Vec<Range<usize>> = Vec::new();
    if edges < LONG {
        parts.push(0..edges);
        return parts;
    }
    for from in (0..edges).step_by(BLOCK) {
        if is_random(marks, from..(from + BLOCK).min(edges)) {
            continue;
        }
        let (from, to) = (from.saturating_sub(BLOCK), (from + 2 * BLOCK).min(edges));
        match parts.last_mut() {
            Some(last) if last.end >= from => last.end = to,
            _ => parts.push(from..to),
        }
    }
    parts
}

/// Whether most intervals differ from those one period before by more than two that are drawn at
/// random, with the least spread that is known of noise, mostly do.
fn is_random(marks: &Marks, block: Range<usize>) -> bool {
    let period = marks.pattern.len();
    let took = |i: usize| (marks.edges[i + 1].at - marks.edges[i].at).0.ln();
    let changes: Vec<f64> = (block.start + period..block.end.saturating_sub(1))
        .map(|i| (took(i) - took(i - period)).abs())
        .collect();
    let at_random = LEAST_SPREAD * std::f64::consts::SQRT_2 / MAD_TO_SD;
    median(&changes).is_some_and(|middle| middle > at_random)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::crank::pattern::Pattern;
    use crate::edges::Edge;
    use crate::units::Seconds;
    use crate::wheel::EdgeKind;

    /// A wheel of three teeth at 0°, 60° and 150°, with noise before and after: intervals of a
    /// constant rate, drawn from golden-ratio fractions.
    #[test]
    fn noise_is_passed_over_and_the_wheel_between_is_found() {
        let mut at = 0.0;
        let mut edges = Vec::new();
        let mut push = |after: f64| {
            at += after;
            edges.push(Edge { at: Seconds(at), kind: EdgeKind::Falling });
        };
        let noise = |i: u32| {
            let fraction = (f64::from(i) * 12.9898).sin() * 43_758.545;
            -0.002 * fraction.fract().abs().max(1e-9).ln()
        };
        (0..6000).for_each(|i| push(noise(i)));
        (0..2000).for_each(|_| [0.04, 0.06, 0.14].into_iter().for_each(&mut push));
        (6000..12_000).for_each(|i| push(noise(i)));
        let pattern = Pattern {
            angles: vec![0.0, 60.0, 150.0],
            kinds: vec![EdgeKind::Falling; 3],
            period: 360.0,
        };
        let marks = Marks { edges: edges.into(), pattern };
        let parts = parts(&marks);
        assert!(parts.len() == 1 && parts[0] == (5000..13_000), "{parts:?}");
        let found = search(&marks, Habits::USUAL);
        // How far it goes on into the noise beside it is for others to cut.
        let longest = found.iter().max_by_key(|stretch| stretch.teeth.len()).expect("a stretch");
        let wheel = longest.teeth.iter().filter(|tooth| (6000..12_000).contains(&tooth.edge));
        let wheel: Vec<_> = wheel.collect();
        assert!(wheel.len() > 5990, "{}", wheel.len());
        assert!(wheel[10..].iter().all(|tooth| tooth.missed + tooth.extra == 0));
        assert!(wheel[10..].iter().all(|tooth| u32::from(tooth.slot) == (tooth.edge + 1) % 3));
        let twice: Vec<Edge> = (0..6000).chain(12_000..18_000).map(|i| marks.edges[i]).collect();
        let none = Marks { edges: twice.into(), ..marks };
        assert!(search(&none, Habits::USUAL).is_empty());
    }
}
