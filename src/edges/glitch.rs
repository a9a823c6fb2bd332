//! Pulses shorter than a tooth could be: bounces, crosstalk, spikes.
//!
//! Each pulse is judged once, on the signal as recorded, by two questions. *Could a tooth or a
//! space be that short here?* It is held against a share of the tooth period around it. *Or is it
//! what this sensor gives at every tooth?* A sensor with an output pulse of fixed length is short
//! against the period everywhere, and each pulse stands alone. What is left out changes no other
//! judgement, so nothing can spread from one pulse to the next.

use super::Edge;
use super::weighted::weighted_median;
use crate::units::Seconds;

/// No tooth and no space of a wheel is a smaller share of the spacing to the next edge of its kind:
/// a sensor sees half a millimetre at best, and teeth of 25 mm pitch are the largest that trigger
/// wheels have (common practice, no source). On public recordings the narrowest spaces that are
/// teeth take 4 to 5 % (a conditioner's short lows on a wheel of four uneven teeth, a merged pulse
/// on one of six), and crosstalk from an ignition output up to 1.3 %.
pub(super) const LEAST_SHARE: f64 = 0.02;
/// A sample more on a pulse is allowed for up to this share of the shortest that may be a tooth;
/// samples further apart see narrow teeth badly anyway.
const MOST_STEP: f64 = 0.5;
/// A pulse is like the others of its kind from this share of their typical length on: a
/// direction-sensing sensor has two lengths, the longer about twice the shorter, and a sample more
/// or less may add to that.
const LIKE_SHARE: f64 = 0.3;
/// A fixed output pulse stands alone: the level then rests for several times its length. Within a
/// burst of noise neighbouring intervals are of one size.
const ALONE: f64 = 4.0;
/// Intervals looked at on each side: three turns of a wheel of four teeth, and more than the pulses
/// of one burst.
const AROUND: usize = 24;
/// A crank speeds up and slows down by a factor of twenty within a turn where it hardly gets over
/// its compressions: most of the time is then spent on spacings several times as long as those the
/// fast teeth stand at. A pulse is a tooth, whatever the period around, from this share of its own
/// spacing on, half of the distance between the edges of its kind before and behind it: a glitch
/// halves the spacing it stands in, and longer ones than 1.3 % are not met with, while the
/// narrowest teeth and spaces take 4 %.
const TOOTH_SHARE: f64 = 0.033;
/// But its own spacing tells nothing where it is shorter than this share of the period around:
/// bursts are as dense as they like (and none of their pulses stands alone), while a crank so uneven
/// is at most several times as fast.
const OWN_SPACING_SHARE: f64 = 0.25;
/// A pulse is like the teeth around it from this share of their shortest on; the shortest is the
/// third of those found, so that two that were let off wrongly decide nothing. Teeth that pass at
/// one place of the cycle differ by a tenth or two from one cycle to the next (recordings).
const ALIKE_TEETH: f64 = 0.7;
const LEAST_TEETH: usize = 3;
/// What stands right beside a pulse is looked at over so many of the shortest periods it would be
/// too short for.
const BESIDE: f64 = 2.0;

/// What was left out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Glitches {
    /// Pulses.
    pub count: usize,
    /// The longest of them.
    pub longest: Seconds,
}

/// Removes the edges of every glitch and says what went; `None` when nothing did. `step` is the
/// time from sample to sample, by which a pulse may look too long, 0 for exact times. `least` is the
/// share of the spacing around it from which on a pulse may be a tooth. Takes time in proportion to the edges.
pub(super) fn drop_glitches(edges: &mut Vec<Edge>, step: f64, least: f64) -> Option<Glitches> {
    let widths: Vec<f64> = edges.windows(2).map(|pair| (pair[1].at - pair[0].at).0).collect();
    let spacings: Vec<f64> = edges.windows(3).map(|three| (three[2].at - three[0].at).0).collect();
    let glitch: Vec<bool> =
        (0..widths.len()).map(|i| is_glitch((&widths, &spacings), i, step, least)).collect();
    // By what was judged alone: one that is let off lets no other one off.
    let glitch: Vec<bool> =
        (0..widths.len()).map(|i| glitch[i] && !is_like_teeth(&widths, &glitch, i)).collect();
    let longest = (0..widths.len()).filter(|&i| glitch[i]).map(|i| widths[i]).reduce(f64::max)?;
    let before = edges.len();
    let mut keep = Vec::with_capacity(before);
    let mut first = 0;
    while first < before {
        let last = (first..glitch.len()).find(|&i| !glitch[i]).unwrap_or(glitch.len());
        // The edges `first..=last` hang together by glitches; without one, that is one edge.
        if (last - first).is_multiple_of(2) {
            keep.push(edges[first + best_step(&widths[first..last])]);
        }
        first = last + 1;
    }
    *edges = keep;
    Some(Glitches { count: (before - edges.len()) / 2, longest: Seconds(longest) })
}

/// Whether interval `i` is shorter than any tooth or space around it, and not what the sensor gives
/// everywhere.
fn is_glitch((widths, spacings): (&[f64], &[f64]), i: usize, step: f64, least: f64) -> bool {
    let width = widths[i];
    let before = &spacings[i.saturating_sub(AROUND)..(i + 1).min(spacings.len())];
    let after = &spacings[i.saturating_sub(1)..(i + AROUND).min(spacings.len())];
    let periods = [before, after].map(|side| period(side, width / least));
    let periods = || periods.into_iter().flatten();
    let too_short = |period: f64| width < least * period + step.min(MOST_STEP * least * period);
    // Towards a standstill the side that turns decides...
    let by_the_faster = periods().reduce(f64::min).is_some_and(too_short);
    // ...but a sensor that chatters once its wheel has stopped makes that side the faster one.
    // There nothing right beside the pulse is as fast.
    let by_the_slower = || {
        periods().reduce(f64::max).is_some_and(too_short)
            && slow_beside((0..i).rev(), widths, spacings, width / least)
            && slow_beside(i + 1..widths.len(), widths, spacings, width / least)
    };
    if !by_the_faster && !by_the_slower() {
        return false;
    }
    let own = spacings.get(i).zip(i.checked_sub(2).and_then(|before| spacings.get(before)));
    let own = own.map_or(0.0, |(after, before)| before.midpoint(*after));
    let typical = periods().reduce(f64::max).unwrap_or(f64::INFINITY);
    let alone = stands_alone(widths, i);
    if alone && own >= OWN_SPACING_SHARE * typical && width >= TOOTH_SHARE * own {
        return false;
    }
    let mut kind: Vec<f64> = kind_around(i, widths.len()).map(|other| widths[other]).collect();
    let like_its_kind = weighted_median(&mut kind).is_some_and(|kind| width >= LIKE_SHARE * kind);
    !(alone && like_its_kind)
}

/// Whether interval `i` stands alone and is as long as the shortest of its kind around it that are
/// no glitches: such teeth pass fast, wherever the crank dwells beside them.
fn is_like_teeth(widths: &[f64], glitch: &[bool], i: usize) -> bool {
    if !stands_alone(widths, i) {
        return false;
    }
    let mut teeth: Vec<f64> = kind_around(i, widths.len())
        .filter(|&other| !glitch[other])
        .map(|other| widths[other])
        .collect();
    teeth.sort_unstable_by(f64::total_cmp);
    teeth.get(LEAST_TEETH - 1).is_some_and(|&tooth| widths[i] >= ALIKE_TEETH * tooth)
}

/// The other intervals of the kind of `i` within [`AROUND`] of it.
fn kind_around(i: usize, count: usize) -> impl Iterator<Item = usize> {
    (1..=AROUND)
        .flat_map(move |n| [i.checked_sub(2 * n), Some(i + 2 * n)])
        .flatten()
        .filter(move |&other| other < count)
}

fn stands_alone(widths: &[f64], i: usize) -> bool {
    let beside = [i.checked_sub(1).map(|i| widths[i]), widths.get(i + 1).copied()];
    beside.into_iter().flatten().all(|next| next > ALONE * widths[i])
}

/// Whether most of the time right beside a pulse, over the intervals on one side of it in order,
/// passes between edges of one kind further apart than the `longest` that the pulse is long enough for
/// a tooth at.
fn slow_beside(
    side: impl Iterator<Item = usize>,
    widths: &[f64],
    spacings: &[f64],
    longest: f64,
) -> bool {
    let (mut left, mut slow) = (BESIDE * longest, 0.0);
    for i in side.take(AROUND) {
        // An interval belongs to two spacings: the one that begins with it and the one that ends
        // with it.
        let around = [i.checked_sub(1), Some(i)].into_iter().flatten();
        let shorter = around.filter_map(|i| spacings.get(i).copied()).reduce(f64::min);
        let spent = widths[i].min(left);
        left -= spent;
        if shorter.is_some_and(|spacing| longest < spacing) {
            slow += spent;
        }
        if left <= 0.0 {
            break;
        }
    }
    slow > BESIDE * longest / 2.0
}

/// The tooth period on one side: the spacing in which half of the time is spent, so that a burst of
/// any number of short pulses does not count for more than the time it takes. The two longest are
/// left out: they may hold a standstill. `None` without a third; no more exact than it takes to
/// clear a pulse that is long enough for spacings up to the `longest`.
fn period(spacings: &[f64], longest: f64) -> Option<f64> {
    let mut all = spacings.to_vec();
    all.sort_unstable_by(f64::total_cmp);
    all.truncate(all.len().saturating_sub(2));
    let most = *all.last()?;
    if longest >= (1.0 + MOST_STEP) * most { Some(most) } else { weighted_median(&mut all) }
}

/// Of an odd number of edges parted by the `widths` between them, the one that alone differs from
/// them for the shortest time.
fn best_step(widths: &[f64]) -> usize {
    // Were the first edge the step, every second interval after it would be at the wrong level.
    let mut wrong: f64 = widths.iter().skip(1).step_by(2).sum();
    let (mut best, mut least) = (0, wrong);
    for (n, pair) in widths.chunks_exact(2).enumerate() {
        wrong += pair[0] - pair[1];
        if wrong < least {
            (best, least) = (2 * n + 2, wrong);
        }
    }
    best
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::wheel::EdgeKind;

    /// Edges at these times, rising first.
    fn edges(times: impl IntoIterator<Item = f64>) -> Vec<Edge> {
        let kinds = [EdgeKind::Rising, EdgeKind::Falling].into_iter().cycle();
        times.into_iter().zip(kinds).map(|(at, kind)| Edge { at: Seconds(at), kind }).collect()
    }

    /// `count` teeth of a period, high for a share of it.
    fn teeth(count: usize, period: f64, high: f64) -> Vec<f64> {
        (0..count).flat_map(|n| [n as f64 * period, (n as f64 + high) * period]).collect()
    }

    fn with(mut times: Vec<f64>, more: &[f64]) -> Vec<Edge> {
        times.extend(more);
        times.sort_by(f64::total_cmp);
        edges(times)
    }

    #[test]
    fn short_pulses_that_every_tooth_has_stay() {
        // A conditioner's lows of 5 % and 95 % in turn; a sensor's pulses of 45 µs at 200 rpm on 36
        // slots, and 90 µs when turning back; a cam with one narrow tooth.
        let flips = (0..300).flat_map(|n| {
            let low = if (n / 7) % 2 == 0 { 0.05 } else { 0.95 };
            [f64::from(n) * 0.02, (f64::from(n) + 1.0 - low) * 0.02]
        });
        let mut pulses = teeth(400, 0.0083, 0.0);
        for (n, pair) in pulses.chunks_exact_mut(2).enumerate() {
            pair[1] += if (100..120).contains(&n) { 90e-6 } else { 45e-6 };
        }
        for (name, times) in
            [("flips", flips.collect()), ("pulses", pulses), ("cam", teeth(12, 0.6, 0.028))]
        {
            let mut kept = edges(times);
            let before = kept.clone();
            assert_eq!(
                (drop_glitches(&mut kept, 0.0, LEAST_SHARE), &kept),
                (None, &before),
                "{name}"
            );
        }
    }

    #[test]
    fn a_narrow_tooth_stays_while_the_engine_speeds_up_and_stops() {
        // Eight turns of a cam with a tooth of 20 crank degrees, 100 to 1,500 rpm within two
        // seconds; then a stop.
        let (mut at, mut times) = (0.5, Vec::new());
        for turn in 0..24 {
            let cycle = 1.2 / (1.0 + f64::from(turn) * 0.6);
            times.extend([at, at + cycle / 36.0]);
            at += cycle;
        }
        times.extend([at + 4.0, at + 4.02]);
        let mut kept = edges(times);
        assert_eq!(drop_glitches(&mut kept, 0.0, LEAST_SHARE), None, "{kept:?}");
    }

    #[test]
    fn narrow_teeth_stay_where_the_crank_passes_them_twenty_times_as_fast() {
        // Four teeth of 5 crank degrees, 70 and 110 apart, on three cylinders whose compressions
        // hold the crank nearly up: 22 to 450 rpm within a turn, the energy swinging as a sine.
        let speed = |angle: f64| {
            let of_firing = (angle / 240.0 * std::f64::consts::TAU).cos();
            let (least, most) = (22.0_f64.powi(2), 450.0_f64.powi(2));
            6.0 * (least + (most - least) * (0.5 + 0.5 * of_firing)).sqrt()
        };
        let (mut at, mut times) = (0.0, Vec::new());
        for quarter in 0..720_u32 * 4 * 8 {
            let angle = f64::from(quarter) / 4.0;
            let place = angle.rem_euclid(180.0);
            if [0.0, 5.0, 70.0, 75.0].contains(&place) {
                times.push(at);
            }
            at += 0.25 / speed(angle);
        }
        let clean = edges(times.iter().copied());
        let widths: Vec<f64> =
            clean.chunks_exact(2).map(|tooth| (tooth[1].at - tooth[0].at).0).collect();
        let (least, most) =
            widths.iter().fold((1.0_f64, 0.0_f64), |(a, b), &w| (a.min(w), b.max(w)));
        assert!(most > 15.0 * least, "{least} {most}");
        let mut kept = clean.clone();
        assert_eq!(drop_glitches(&mut kept, 0.0, LEAST_SHARE), None);
        // Spikes of a tenth of the shortest tooth in the long spaces go all the same.
        let spikes: Vec<f64> = times
            .windows(2)
            .filter(|pair| pair[1] - pair[0] > 0.05)
            .flat_map(|pair| [pair[0].midpoint(pair[1]), pair[0].midpoint(pair[1]) + 0.1 * least])
            .collect();
        assert!(spikes.len() > 20);
        let mut kept = with(times, &spikes);
        let told = drop_glitches(&mut kept, 0.0, LEAST_SHARE).map(|told| told.count);
        assert_eq!((told, kept), (Some(spikes.len() / 2), clean));
    }

    #[test]
    fn crosstalk_before_a_stop_goes_though_the_sensor_chatters_after_it() {
        // Teeth of 44 ms; a burst in the last low; then chatter of 2.5 ms to the end, as recorded
        // beside an igniter.
        let wheel = teeth(24, 0.044, 0.39);
        let end = 24.0 * 0.044;
        let burst = [0.0, 80e-6, 160e-6, 380e-6, 2.6e-3, 2.7e-3].map(|at| end - 0.015 + at);
        let chatter = teeth(30, 0.0025, 0.25).into_iter().map(|at| end + 0.03 + at);
        let want = edges(wheel.iter().copied().chain(chatter.clone()));
        let mut kept = with(wheel.iter().copied().chain(chatter).collect(), &burst);
        assert_eq!(drop_glitches(&mut kept, 0.0, LEAST_SHARE).map(|told| told.count), Some(3));
        assert_eq!(kept, want);
    }

    #[test]
    fn bounces_and_crosstalk_go_and_their_number_is_told() {
        let clean = teeth(200, 0.003, 0.25);
        // A bounce of half a microsecond a microsecond before a rise; a pair in mid-level; a burst
        // of ten pulses.
        let burst: Vec<f64> = (0..20).map(|n| 0.2415 + 1.5e-6 * f64::from(n * n)).collect();
        let mut dirty = vec![0.299_998_5, 0.299_999, 0.4, 0.400_04];
        dirty.extend(burst);
        let mut kept = with(clean.clone(), &dirty);
        let told = drop_glitches(&mut kept, 0.0, LEAST_SHARE).expect("glitches");
        let times: Vec<f64> = kept.iter().map(|edge| edge.at.0).collect();
        assert_eq!(times.len(), clean.len());
        assert!(times.iter().zip(&clean).all(|(a, b)| (a - b).abs() < 2e-6), "{times:?}");
        assert_eq!(told.count, 12);
        assert!(kept.windows(2).all(|pair| pair[0].kind != pair[1].kind));
    }

    #[test]
    fn crosstalk_that_outnumbers_the_teeth_does_not_pass_for_them() {
        // A slow cam of 50 % duty with a 0.1 ms pulse of crosstalk at every tooth of a crank wheel.
        let slow = teeth(10, 0.09, 0.5);
        let cross: Vec<f64> = (0..400)
            .flat_map(|n| [f64::from(n) * 0.0022 + 0.001, f64::from(n) * 0.0022 + 0.0011])
            .collect();
        let mut kept = with(slow.clone(), &cross);
        drop_glitches(&mut kept, 0.0, LEAST_SHARE);
        assert!(kept.len() >= slow.len());
    }

    #[test]
    fn many_edges_take_no_longer_each_than_few() {
        // What is counted is the work, not the time: forty thousand glitches among forty thousand
        // edges, judged once.
        let mut times = teeth(20_000, 0.001, 0.5);
        times.extend(
            (0..20_000)
                .flat_map(|n| [f64::from(n) * 0.001 + 0.0002, f64::from(n) * 0.001 + 0.000_205]),
        );
        let mut kept = with(times, &[]);
        assert_eq!(drop_glitches(&mut kept, 0.0, LEAST_SHARE).map(|told| told.count), Some(20_000));
        assert_eq!(kept.len(), 40_000);
    }
}
