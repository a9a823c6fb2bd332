//! Crank angle between teeth against SciPy, and against a motion known in closed form.

use camwitness::crank::interpolate::{hermite, pchip_slopes, spline_slopes};
use camwitness::crank::{CrankAngle, Mark};
use camwitness::units::{CrankDelta, CrankTurned, Seconds};

/// SciPy 1.17.1 values, made by tests/reference/make_interpolation.py.
const REFERENCE: &str = include_str!("reference/interpolation.csv");

fn rows(kind: &str) -> Vec<(f64, f64)> {
    REFERENCE
        .lines()
        .filter_map(|line| line.strip_prefix(kind)?.strip_prefix(',')?.split_once(','))
        .map(|(x, y)| (x.parse().expect("a number"), y.parse().expect("a number")))
        .collect()
}

fn evaluate(knots: &[(f64, f64)], slopes: &[f64], at: f64) -> f64 {
    let i = knots.partition_point(|knot| knot.0 <= at).clamp(1, knots.len() - 1) - 1;
    let (from, to) = (knots[i], knots[i + 1]);
    hermite((from.0, from.1, slopes[i]), (to.0, to.1, slopes[i + 1]), at).0
}

#[test]
fn both_curves_are_scipys() {
    let knots = rows("knot");
    let (x, y): (Vec<f64>, Vec<f64>) = knots.iter().copied().unzip();
    for (name, slopes) in [("pchip", pchip_slopes(&x, &y)), ("spline", spline_slopes(&x, &y))] {
        let wanted = rows(name);
        assert_eq!(wanted.len(), 41);
        for (at, want) in wanted {
            let got = evaluate(&knots, &slopes, at);
            assert!((got - want).abs() < 1e-8, "{name} at {at}: want {want}, got {got}");
        }
    }
}

/// Greatest error of the angle inside gaps, for a crank turning at 1200°/s with a ripple of
/// ±`ripple` at `order`, as θ(t) = ω t + (ripple/order) sin(order · ω t + phase); teeth every
/// `pitch` degrees, `gap` degrees missing once per 360.
fn worst_in_gap(
    order: f64,
    ripple: f64,
    pitch: f64,
    gap: f64,
    slopes: fn(&[f64], &[f64]) -> Vec<f64>,
) -> f64 {
    let omega = 1200.0_f64;
    let degree = 1.0_f64.to_radians();
    let mut worst = 0.0_f64;
    for phase in (0..12).map(|i| f64::from(i) * 30.0) {
        let angle = |t: f64| {
            omega * t + ripple / order / degree * ((order * omega * t + phase) * degree).sin()
        };
        let mut knots = Vec::new();
        for k in 0..(1080.0 / pitch) as usize {
            let target = k as f64 * pitch;
            let into = target % 360.0;
            if into > 360.0 - gap + 1e-9 || (into == 0.0 && k == 0) {
                continue;
            }
            // Newton's rule on a strictly growing function.
            let mut t = target / omega;
            for _ in 0..60 {
                let slope = omega * (1.0 + ripple * ((order * omega * t + phase) * degree).cos());
                t -= (angle(t) - target) / slope;
            }
            knots.push((t, target));
        }
        let (x, y): (Vec<f64>, Vec<f64>) = knots.iter().copied().unzip();
        let slopes = slopes(&x, &y);
        let holes = knots
            .windows(2)
            .filter(|pair| pair[1].1 - pair[0].1 > 1.5 * pitch && pair[0].1 > 180.0);
        for pair in holes {
            for part in 1..20 {
                let t = pair[0].0 + (pair[1].0 - pair[0].0) * f64::from(part) / 20.0;
                worst = worst.max((evaluate(&knots, &slopes, t) - angle(t)).abs());
            }
        }
    }
    worst
}

#[test]
fn the_error_inside_the_gap_is_small() {
    // (order, ripple ±, pitch, gap, largest error allowed in degrees). The curve is fourth order:
    // 5/384 · h⁴ · |θ''''| bounds a spline through exact knots; rounded up.
    let rows = [
        (2.0, 0.20, 10.0, 30.0, 0.10),
        (3.0, 0.125, 10.0, 30.0, 0.20),
        (3.0, 0.20, 6.0, 18.0, 0.08),
        (4.0, 0.10, 6.0, 18.0, 0.08),
        (4.0, 0.10, 10.0, 30.0, 0.40),
    ];
    for (order, ripple, pitch, gap, allowed) in rows {
        let ours = worst_in_gap(order, ripple, pitch, gap, spline_slopes);
        let pchip = worst_in_gap(order, ripple, pitch, gap, pchip_slopes);
        println!("order {order}, ±{ripple}, {gap}° gap: ours {ours:.3}°, pchip {pchip:.3}°");
        assert!(ours < allowed, "order {order}, {gap}°: {ours:.3}° (allowed {allowed}°)");
        assert!(ours < pchip, "the spline's slopes are there to beat pchip");
    }
}

#[test]
fn time_and_angle_are_each_others_inverse() {
    let marks: Vec<Mark> = rows("knot")
        .into_iter()
        .map(|(t, a)| Mark { at: Seconds(t), turned: CrankTurned(a) })
        .collect();
    let angle = CrankAngle::through(marks, CrankDelta(360.0), CrankDelta(30.0)).unwrap();
    for step in 0..=240 {
        let turned = CrankTurned(f64::from(step) / 2.0);
        let back = angle.time_at(turned).and_then(|at| angle.angle_at(at)).unwrap();
        assert!((back.0 - turned.0).abs() < 1e-6, "{turned:?} came back as {back:?}");
    }
    assert_eq!(angle.angle_at(Seconds(-1.0)), None);
    assert_eq!(angle.time_at(CrankTurned(121.0)), None);
}
