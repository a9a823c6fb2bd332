//! Crossing times against closed forms, and signals with known dirt.

use super::*;
use crate::capture::Clock;

fn capture(rate: f64, seconds: f64, mut volts: impl FnMut(f64) -> f64) -> Capture {
    let rows = (rate * seconds) as usize;
    let values = (0..rows).map(|row| volts(row as f64 / rate) as f32).collect();
    let clock = Clock::Uniform { start: Seconds(0.0), step: Seconds(1.0 / rate) };
    let crank = Channel {
        name: "crank".into(),
        column: 2,
        unit: Unit::Volts,
        values,
        over_range: Vec::new(),
    };
    Capture::new("test".into(), CaptureKind::Sampled, clock, vec![crank])
}

fn edges(capture: &Capture) -> EdgeTrain {
    find_edges(capture, &capture.channels[0], None)
}

/// Repeatable noise, uniform in ±1: a linear congruential generator (Knuth's MMIX constants).
fn noise(seed: u64) -> impl FnMut() -> f64 {
    let mut state = seed;
    move || {
        state =
            state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (state >> 11) as f64 / (1_u64 << 52) as f64 - 1.0
    }
}

#[test]
fn a_sine_sweep_crosses_zero_where_the_closed_form_says() {
    // v = A(t) sin(2π (f0 t + k t²/2)), amplitude growing with frequency as Faraday's law has it.
    // Zero crossings where f0 t + k t²/2 = n/2: t = (−f0 + √(f0² + k n)) / k. Rising for even n.
    let (f0, k, offset) = (60.0, 30.0, 2.5);
    let captured = capture(50_000.0, 2.0, |t| {
        let turns = f0 * t + k * t * t / 2.0;
        offset + (0.5 + 0.25 * t) * (std::f64::consts::TAU * turns).sin()
    });
    let train = edges(&captured);
    assert_eq!(train.shape, SignalShape::Alternating);
    let mut checked = 0;
    for edge in &train.edges {
        let turns = f0 * edge.at.0 + k * edge.at.0 * edge.at.0 / 2.0;
        let n = (2.0 * turns).round();
        let want = (-f0 + (f0 * f0 + k * n).sqrt()) / k;
        // A thousandth of a period, 0.01° on a 10° pitch, is a tenth of the accuracy we promise.
        let frequency = f0 + k * want;
        assert!(
            (edge.at.0 - want).abs() * frequency < 1e-3,
            "crossing {n}: {} for {want}",
            edge.at.0
        );
        let kind = if n % 2.0 == 0.0 { EdgeKind::Rising } else { EdgeKind::Falling };
        assert_eq!(edge.kind, kind);
        checked += 1;
    }
    assert!(checked > 300, "{checked} crossings");
}

/// A square wave of 100 Hz and 40 % duty with edges `ramp` seconds long, and where it crosses the
/// middle.
fn square(t: f64, low: f64, high: f64, ramp: f64) -> f64 {
    let phase = t.rem_euclid(0.01);
    let part = |since: f64| ((since / ramp) + 0.5).clamp(0.0, 1.0);
    let up = part(phase - 0.001);
    let down = part(phase - 0.005);
    low + (high - low) * (up - down)
}

#[test]
fn a_square_wave_is_crossed_at_half_its_own_levels_whatever_they_are() {
    for (low, high) in [(0.0, 5.0), (0.2, 11.8), (-3.0, -1.0), (5.0, 0.0)] {
        let captured = capture(20_000.0, 1.0, |t| square(t, low, high, 0.0004));
        let train = edges(&captured);
        assert_eq!(train.shape, SignalShape::Square);
        assert_eq!(train.edges.len(), 200, "{low} to {high}");
        for edge in &train.edges {
            let first = (edge.kind == EdgeKind::Rising) == (high > low);
            let want = if first { 0.001 } else { 0.005 };
            let late = (edge.at.0 - want + 0.002).rem_euclid(0.01) - 0.002;
            assert!(late.abs() < 2e-6, "{low} to {high}: {late} s late");
        }
    }
}

#[test]
fn the_scatter_of_fast_edges_is_a_step_over_root_twelve() {
    // An edge faster than a sample is known to one step: uniform, sd = step/√12 (docs/sources.md,
    // "Signals").
    let rate = 10_000.0;
    // 101.7 Hz, so that the edges fall everywhere within a step.
    let captured = capture(rate, 4.0, |t| if (t * 101.7).fract() < 0.5 { 5.0 } else { 0.0 });
    let train = edges(&captured);
    let late: Vec<f64> =
        train.of_kind(EdgeKind::Rising).map(|at| at.0 - (at.0 * 101.7).round() / 101.7).collect();
    let mean = late.iter().sum::<f64>() / late.len() as f64;
    let sd = (late.iter().map(|l| (l - mean).powi(2)).sum::<f64>() / late.len() as f64).sqrt();
    let want = 1.0 / rate / 12.0_f64.sqrt();
    assert!((sd / want - 1.0).abs() < 0.1, "sd {sd}, step/√12 {want}");
    assert!((train.timing_sd.0 / want - 1.0).abs() < 0.1, "said {:?}", train.timing_sd);
}

#[test]
fn noise_drift_spikes_and_glitches_make_no_edges() {
    let mut random = noise(7);
    let captured = capture(20_000.0, 2.0, |t| {
        let clean = square(t, 0.3, 4.8, 0.0003) + 0.4 * (t * 3.0).sin();
        let spike = if (t * 20_000.0).round() as usize % 1777 == 5 { 9.0 } else { 0.0 };
        clean + 0.25 * random() + spike
    });
    let train = edges(&captured);
    assert_eq!(train.edges.len(), 400);
    let worst = train
        .edges
        .iter()
        .map(|edge| {
            let want = if edge.kind == EdgeKind::Rising { 0.001 } else { 0.005 };
            ((edge.at.0 - want + 0.002).rem_euclid(0.01) - 0.002).abs()
        })
        .fold(0.0, f64::max);
    assert!(worst < 1.5e-4, "{worst}");
}

#[test]
fn dead_leads_are_called_dead() {
    let mut random = noise(3);
    for train in [
        edges(&capture(10_000.0, 1.0, |_| 5.0)),
        edges(&capture(10_000.0, 1.0, |_| 0.01 * random())),
    ] {
        assert_eq!(train.faults, [SignalFault::Dead]);
        assert!(train.edges.is_empty());
    }
}

#[test]
fn a_clipped_reluctance_signal_is_said_and_still_crosses() {
    let captured = capture(20_000.0, 1.0, |t| (4.0 * (t * 628.0).sin()).clamp(-3.0, 3.0));
    let train = edges(&captured);
    assert!(
        train
            .faults
            .iter()
            .any(|fault| matches!(fault, SignalFault::Clipped(share) if *share > 0.3)),
        "{:?} {:?}",
        train.shape,
        train.faults
    );
    assert!((train.edges.len() as i64 - 200).abs() <= 2, "{}", train.edges.len());
}

/// Battery volts, as shares of the rest level: at rest, 0.67 when the starter engages at 0.3 s, 0.8
/// while it turns, and back.
fn battery(t: f64) -> f64 {
    let dip = if t < 0.3 { 0.0 } else { 0.13 * (-(t - 0.3) / 0.1).exp() };
    let load = if (0.3..2.3).contains(&t) { 0.2 } else { 0.0 };
    1.0 - dip - load
}

#[test]
fn a_square_wave_whose_supply_sags_is_one_whatever_is_said_of_it() {
    // A cam that is high for half of 0.6 s, and a crank: low 0.4 V, high what the battery gives.
    for (name, period) in [("cam", 0.6), ("crank", 0.005)] {
        let captured = capture(20_000.0, 2.6, |t| {
            let high = 12.4 * battery(t);
            let phase = if t < 0.31 { 0.75 } else { ((t - 0.31) / period).fract() };
            if phase < 0.5 { high } else { 0.4 }
        });
        for stated in [None, Some(Sensor::Hall), Some(Sensor::Pulse)] {
            let train = find_edges(&captured, &captured.channels[0], stated);
            assert_eq!(train.shape, SignalShape::Square, "{name} {stated:?}");
            let want = ((2.6_f64 - 0.31) / period * 2.0).ceil() as usize;
            assert_eq!(train.edges.len(), want, "{name} {stated:?}");
            let late = |edge: &Edge| {
                let half = (edge.at.0 - 0.31) / (period / 2.0);
                (half - half.round()).abs() * period / 2.0
            };
            let worst = train.edges.iter().map(late).fold(0.0, f64::max);
            assert!(worst <= 0.5e-4, "{name}: {worst} s, a sample is 5e-5 s");
        }
    }
}

#[test]
fn what_is_said_of_a_sensor_holds_until_the_signal_refutes_it() {
    let sine = capture(20_000.0, 1.0, |t| 2.0 * (t * 628.0).sin());
    let flat = capture(20_000.0, 1.0, |t| square(t, 0.0, 5.0, 0.0004));
    // Edges that take most of a tooth, as an output with a large capacitor makes them: neither one
    // nor the other.
    let slow = capture(20_000.0, 1.0, |t| square(t, 0.0, 5.0, 0.0018));
    let rows = [
        (&sine, Some(Sensor::Hall), SignalShape::Alternating),
        (&sine, Some(Sensor::Reluctance), SignalShape::Alternating),
        (&sine, None, SignalShape::Alternating),
        (&flat, Some(Sensor::Reluctance), SignalShape::Square),
        (&slow, Some(Sensor::Reluctance), SignalShape::Alternating),
    ];
    for (captured, stated, want) in rows {
        let train = find_edges(captured, &captured.channels[0], stated);
        assert_eq!(train.shape, want, "{stated:?}");
    }
}

/// Output pulses of 45 µs at every hundredth of a second, idle high, then `back` of 90 µs; sampled.
fn pulses(rate: f64, back: std::ops::Range<usize>) -> Capture {
    capture(rate, 2.0, |t| {
        // Not in step with the samples.
        let t = t - 0.003_003_3;
        let n = (t / 0.010_007).floor();
        let length = if t >= 0.0 && back.contains(&(n as usize)) { 90e-6 } else { 45e-6 };
        if t >= 0.0 && t - n * 0.010_007 < length { 0.2 } else { 4.9 }
    })
}

#[test]
fn output_pulses_mark_by_their_leading_edge_and_tell_the_direction() {
    for rate in [50_000.0, 100_000.0, 500_000.0] {
        let captured = pulses(rate, 120..127);
        for stated in [Some(Sensor::Pulse), Some(Sensor::Hall), None] {
            let train = find_edges(&captured, &captured.channels[0], stated);
            let told = train.pulses.as_ref().expect("pulses");
            assert_eq!(told.leading, EdgeKind::Falling, "{rate}");
            assert!((told.length.0 - 45e-6).abs() < 5e-6, "{rate}: {:?}", told.length);
            assert!(told.tells_direction);
            let (forward, ends) = if stated == Some(Sensor::Pulse) { (193, 0) } else { (200, 200) };
            assert_eq!(train.of_kind(EdgeKind::Falling).count(), forward, "{rate} {stated:?}");
            assert_eq!(train.of_kind(EdgeKind::Rising).count(), ends, "{rate} {stated:?}");
            assert_eq!(told.backward.len(), 1, "{rate}: {:?}", told.backward);
            assert_eq!(told.backward[0].teeth, 7);
            for at in train.of_kind(EdgeKind::Falling) {
                let late = (at.0 - 0.003_003_3).rem_euclid(0.010_007);
                assert!(late.min(0.010_007 - late) <= 1.0 / rate, "{rate}: {late}");
            }
        }
    }
}

#[test]
fn at_a_low_rate_some_pulses_are_seen_and_nothing_is_said_of_their_direction() {
    let captured = pulses(10_000.0, 0..0);
    let train = find_edges(&captured, &captured.channels[0], Some(Sensor::Pulse));
    let seen = train.of_kind(EdgeKind::Falling).count();
    // 45 µs of every 100: a little under half of them.
    assert!((60..130).contains(&seen), "{seen}");
    assert!(train.pulses.is_some_and(|pulses| !pulses.tells_direction));
}
