//! How many slots each step of a mean turn may have: by the smoothest speed, by the lengths of the
//! steps alone, with one irregular place.

/// Longest gap, in plain steps.
const LONGEST_GAP: usize = 6;
/// Most steps of a wheel so coarse that the smoothest speed says little: the next step may be made at
/// any other.
const COARSE_STEPS: usize = 13;

/// Slots of each step of a mean turn of a coarse wheel, by its length alone.
pub(super) fn slots_nearest(typical: &[f64], plain: usize) -> Option<Vec<usize>> {
    let most = LONGEST_GAP * plain;
    let near = |&ratio: &f64| ((ratio * plain as f64).round() as usize).clamp(1, most);
    let counts: Vec<usize> = typical.iter().map(near).collect();
    // Of three teeth the smoothest speed decides, as below.
    ((4..=COARSE_STEPS).contains(&typical.len()) && counts.contains(&plain)).then_some(counts)
}

/// A gap of one tooth is at least so many plain steps long, where the engine turns fastest.
const MAY_BE_GAP: f64 = 1.3;

/// Slots of each step of a coarse wheel that has one irregular place: the shortest step is a part of
/// a plain one together with one of its neighbours; of undivided steps the longest is a gap of one
/// tooth.
pub(super) fn one_irregular(typical: &[f64], plain: usize) -> Vec<Vec<usize>> {
    let count = typical.len();
    if !(3..=COARSE_STEPS).contains(&count) {
        return Vec::new();
    }
    let even = vec![plain; count];
    let extreme = |sign: f64| {
        (0..count).max_by(|&a, &b| (sign * typical[a]).total_cmp(&(sign * typical[b]))).unwrap_or(0)
    };
    if plain == 1 {
        let (mut counts, longest) = (even, extreme(1.0));
        counts[longest] = 2;
        // Of three teeth one always stands far from the next: there the smoothest speed decides.
        let may_be = count > 3 && typical[longest] > MAY_BE_GAP;
        return if may_be { vec![counts] } else { Vec::new() };
    }
    let shortest = extreme(-1.0);
    let part = ((typical[shortest] * plain as f64).round() as usize).clamp(1, plain - 1);
    let beside = [(shortest + 1) % count, (shortest + count - 1) % count];
    let with = |other: usize| {
        let mut counts = even.clone();
        (counts[shortest], counts[other]) = (part, plain - part);
        counts
    };
    beside.map(with).to_vec()
}

/// Price of a step that is a gap, for the first slot missing and for each more, in nats: a few
/// steps of a turn are.
const GAP: (f64, f64) = (2.5, 0.6);
/// Price of a part of a plain step, and of a step that is neither.
const PART: f64 = 3.0;
const ODD: f64 = 6.0;
/// Degrees of freedom of the speed's changes.
const TAIL: f64 = 4.0;
/// Scatter of a mean step's log.
const STEP_SD: f64 = 0.05;

/// Slots of each step of a mean turn, for the smoothest speed: a search round the turn from the
/// most usual step.
pub(super) fn slots_of(steps: &[f64], typical: &[f64], plain: usize) -> Option<Vec<usize>> {
    let count = steps.len();
    if count == 1 {
        return Some(vec![plain]);
    }
    let start = (0..count).min_by(|&a, &b| {
        let off = |at: usize| typical[at].ln().abs();
        off(a).total_cmp(&off(b))
    })?;
    let most = LONGEST_GAP * plain;
    let price = |slots: usize| match (slots.cmp(&plain), slots % plain) {
        (std::cmp::Ordering::Equal, _) => 0.0,
        (std::cmp::Ordering::Less, _) => PART,
        (std::cmp::Ordering::Greater, 0) => GAP.0 + GAP.1 * (slots / plain - 2) as f64,
        (std::cmp::Ordering::Greater, _) => ODD,
    };
    let mean = steps.iter().sum::<f64>() / count as f64;
    // The period is taken for a turn here; of a part of one the steps are shorter and smoother.
    let speed =
        |at: usize, slots: usize| (slots as f64 / plain as f64).ln() - (steps[at] / mean).ln();
    let rough = |change: f64, at: usize| {
        let degrees = steps[at].midpoint(steps[(at + count - 1) % count]);
        let sd = STEP_SD.hypot(CHANGE_PER_DEGREE * degrees);
        0.5 * (TAIL + 1.0) * ((change / sd).powi(2) / TAIL).ln_1p()
    };
    // Cost and way back of the best path that ends with so many slots.
    let mut row: Vec<f64> =
        (1..=most).map(|slots| if slots == plain { 0.0 } else { f64::INFINITY }).collect();
    let mut ways: Vec<Vec<usize>> = Vec::new();
    for i in 1..=count {
        let (at, before) = ((start + i) % count, (start + i - 1) % count);
        let mut next = vec![f64::INFINITY; most];
        let mut way = vec![0; most];
        for slots in 1..=most {
            if i == count && slots != plain {
                continue;
            }
            for from in 1..=most {
                if !row[from - 1].is_finite() {
                    continue;
                }
                let change = speed(at, slots) - speed(before, from);
                let cost = row[from - 1] + price(slots) + rough(change, at);
                if cost < next[slots - 1] {
                    (next[slots - 1], way[slots - 1]) = (cost, from);
                }
            }
        }
        row = next;
        ways.push(way);
    }
    let mut counts = vec![plain; count];
    let mut slots = plain;
    for i in (1..=count).rev() {
        counts[(start + i) % count] = slots;
        slots = ways[i - 1][slots - 1];
        if slots == 0 {
            return None;
        }
    }
    Some(counts)
}

/// Rms change of the log of the speed per degree, of a ripple of 25 % at third order (as in the
/// decoder's search).
const CHANGE_PER_DEGREE: f64 = 0.006;
