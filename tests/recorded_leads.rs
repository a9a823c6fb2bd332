//! The recordings without a whole crank wheel and cam to hold against each other: one lead, discs,
//! lost teeth (see `recordings.rs`).

use camwitness::capture::Capture;
use camwitness::crank::WhyDoubted;
use camwitness::edges::{EdgeTrain, find_edges};
use camwitness::units::{CrankDelta, Seconds};
use camwitness::wheel::EdgeKind::{self, Falling, Rising};

use crate::recordings::{capture, check_turns, engine, folder, measured};

fn train(capture: &Capture, column: &str) -> EdgeTrain {
    let channel = capture.channels.iter().find(|channel| channel.name == column).expect(column);
    find_edges(capture, channel, None)
}

fn times(train: &EdgeTrain, kind: EdgeKind, (from, to): (f64, f64)) -> Vec<f64> {
    train.of_kind(kind).map(|at| at.0).filter(|at| (from..to).contains(at)).collect()
}

#[test]
fn an_even_disc_says_by_which_edge_its_angles_are() {
    let Some(folder) = folder() else { return };
    let capture = capture(&folder, "disc-24-plus-1.csv", None, None);
    let (pri, sec) = (train(&capture, "pri"), train(&capture, "sec"));
    let all = (0.0, 100.0);
    assert_eq!((times(&pri, Rising, all).len(), times(&pri, Falling, all).len()), (207, 208));
    // README: `sec` rises at s.
    let rises = [9.04358, 9.16896, 9.28809, 9.40467, 9.51972, 9.63482, 9.75006, 9.86463];
    for (got, want) in times(&sec, Rising, all).iter().zip(rises) {
        assert!((got - want).abs() < 1e-5, "{got} for {want}");
    }
    // README: in slots after the `pri` edge before it, tolerance 0.005.
    let after = |sec: f64, kind: EdgeKind| {
        let pri = times(&pri, kind, all);
        let next = pri.partition_point(|at| *at <= sec);
        (sec - pri[next - 1]) / (pri[next] - pri[next - 1])
    };
    for (sec_kind, pri_kind, want) in [
        (Rising, Rising, 0.315),
        (Rising, Falling, 0.881),
        (Falling, Rising, 0.701),
        (Falling, Falling, 0.267),
    ] {
        for at in times(&sec, sec_kind, (9.1, 9.86)) {
            let got = after(at, pri_kind);
            assert!(
                (got - want).abs() <= 0.005,
                "{sec_kind:?} after {pri_kind:?}: {got:.4} for {want}"
            );
        }
    }
    let result = measured(&capture, &engine("disc"), &["crank=pri", "disc=sec"]);
    let crank = &result.crank;
    assert_eq!((crank.missed, crank.extra, crank.angle.known_modulo().0), (0, 0, 30.0));
    // README: with 30° a slot the rise is at 9.44 by rising and 26.43 by falling edges: the edge is
    // said, and the other.
    assert_eq!(crank.marking_edge, Falling);
    let rise = result.cams[0].measured.edges.iter().find(|edge| edge.kind == Rising).expect("it");
    let by_falling = rise.at.get().rem_euclid(30.0);
    assert!((by_falling - 26.43).abs() <= 0.15, "{by_falling}");
    let doubt = crank.edge_doubt.as_ref().expect("an unstated edge of an even wheel is said");
    assert_eq!(doubt.why, WhyDoubted::Unstated);
    let later = doubt.later.expect("by how much");
    let by_rising = (by_falling + later.0).rem_euclid(30.0);
    assert!((by_rising - 9.44).abs() <= 0.15, "{by_rising}");
    // README: 957 to 1047 rpm of the crank where the disc turns with the cam, disc rpm per turn to
    // 0.1 %.
    let disc = [478.6, 503.7, 514.6, 521.5, 521.3, 520.7, 523.7];
    for (two, want) in rises.windows(2).zip(disc) {
        let turned = |at: f64| crank.angle.angle_at(Seconds(at)).expect("in sync").0;
        let rpm = (turned(two[1]) - turned(two[0])) / (two[1] - two[0]) / 12.0;
        assert!((rpm - want).abs() <= 0.001 * want, "{rpm:.1} for {want}");
    }
}

#[test]
fn a_slow_reluctance_crank_gives_every_tooth_and_turn() {
    let Some(folder) = folder() else { return };
    let capture = capture(&folder, "sampled-crank-slow.csv", None, None);
    let result = measured(&capture, &engine("sampled-slow"), &[]);
    let crank = &result.crank;
    assert_eq!(crank.marking_edge, Falling);
    assert_eq!((crank.teeth_seen, crank.missed, crank.extra), (247, 0, 0));
    assert_eq!(crank.angle.known_modulo().0, 360.0);
    // README: tolerance 0.5 ms and 0.3 rpm.
    let datums = [0.33900, 1.04200, 1.67170, 2.25060, 2.79470];
    for want in datums {
        let mut marks = crank.angle.marks().iter();
        let datum = marks.find(|mark| (mark.at.0 - want).abs() <= 5e-4).expect("a tooth there");
        assert_eq!(datum.turned.0.rem_euclid(360.0), 0.0, "the tooth at {want} s is the datum");
    }
    let first = crank.angle.marks().iter().find(|mark| (mark.at.0 - datums[0]).abs() <= 5e-4);
    check_turns(&result, first.expect("the first").at.0, &[85.35, 95.28, 103.64, 110.27], 0.3);
}

#[test]
fn a_jittery_wheel_misses_no_tooth() {
    let Some(folder) = folder() else { return };
    let capture = capture(&folder, "noisy-36-2.csv", None, None);
    let result = measured(&capture, &engine("noisy"), &["crank=2"]);
    let crank = &result.crank;
    assert_eq!((crank.missed, crank.extra, crank.angle.known_modulo().0), (0, 0, 360.0));
    // README: rpm 0.1 % on the same edge, 1 % on the other; this is by falling edges.
    assert_eq!(crank.marking_edge, Falling);
    let want = [316.0, 306.4, 321.2, 328.3, 318.0, 312.5, 316.0];
    check_turns(&result, 0.17008, &want, 0.001 * 316.0);
    // README: jitter of one edge 1.2° rms, tolerance 0.2.
    let jitter = crank.jitter.expect("the edges jitter").0;
    assert!((jitter - 1.2).abs() <= 0.2, "{jitter}");
    let doubt = crank.edge_doubt.as_ref().expect("which edge marks is not sure");
    assert_eq!(doubt.why, WhyDoubted::Unstated);
}

#[test]
fn discs_beside_an_igniter_give_their_periods() {
    let Some(folder) = folder() else { return };
    let capture = capture(&folder, "igniter-beside-discs.csv", None, None);
    let large = train(&capture, "large");
    // README: `large` fall to fall in the second start, ms, tolerance 0.5 %.
    let want = [
        117.3, 64.7, 43.5, 34.6, 29.6, 27.0, 25.2, 24.1, 23.7, 23.7, 23.9, 24.4, 25.5, 26.4, 26.8,
        27.0, 27.7, 29.0, 30.4, 32.2, 34.2, 36.6, 39.7, 44.1, 48.8, 54.1, 58.4, 63.8, 70.3, 71.9,
        78.7,
    ];
    // The last fall is at 6.3487 s; what comes up to the stop at 6.385 s is for `edges.rs`.
    let falls = times(&large, Falling, (5.05, 6.36));
    assert_eq!(falls.len(), want.len() + 1, "32 falls in the second start");
    for (two, want) in falls.windows(2).zip(want) {
        let took = 1e3 * (two[1] - two[0]);
        assert!((took - want).abs() <= 0.005 * want + 0.05, "{took:.2} ms for {want}");
    }
    let result = measured(&capture, &engine("igniter"), &["crank=large", "half moon=small"]);
    // README: both discs together are known modulo their turn, `large` alone modulo one period;
    // four starts are not one run.
    assert_eq!(result.crank.angle.known_modulo().0, 180.0);
    let (from, to) = result.crank.angle.span();
    let starts = [(1.3, 3.68), (5.0, 6.44), (7.6, 9.15), (10.3, 12.6)];
    let inside = starts.iter().any(|start| start.0 <= from.0 && to.0 <= start.1);
    assert!(inside, "one start, not several: {from:?} to {to:?}");
}

#[test]
fn a_conditioner_that_merges_teeth_leaves_speed_and_symmetry() {
    let Some(folder) = folder() else { return };
    let capture = capture(&folder, "six-and-seven.csv", None, None);
    let result = measured(&capture, &engine("six-and-seven"), &[]);
    let crank = &result.crank;
    assert_eq!(crank.angle.known_modulo().0, 180.0);
    // README: 46 of 63 rises are there from 1.193 s on.
    assert!((15..=18).contains(&crank.missed), "{} missed", crank.missed);
    assert!(crank.confidence < 0.9999, "more than 99.9 % for any wheel is too much here");
    // README: rpm per turn from the rise at 1.19297 s, which ends the 31° step, tolerance 0.3 %.
    // Not reached: the first turn (217.4), in which the search takes the start for slower and two
    // lost teeth for one more that was passed over.
    let want = [220.7, 218.7, 215.8, 212.8, 212.6, 208.6, 209.1, 206.1, 207.8];
    let mut from = 1.46891;
    let start = crank.angle.angle_at(Seconds(from)).expect("in sync").0;
    let at = CrankDelta(start).wrap(CrankDelta(180.0)).0;
    assert!(at.abs() < 0.1, "the rise after the 31° step is the datum: {at:.2}");
    for (turn, want) in (1..).zip(want) {
        let angle = camwitness::units::CrankTurned(start + 360.0 * f64::from(turn));
        let to = crank.angle.time_at(angle).expect("in sync").0;
        let rpm = 60.0 / (to - from);
        assert!((rpm - want).abs() <= 0.003 * want, "turn {turn}: {rpm:.2} for {want}");
        from = to;
    }
    // README: falls and rises of the cam from that rise, tolerance 4, known modulo 180 by the crank
    // alone.
    let places = [
        (86.0, 107.0),
        (251.0, 274.0),
        (284.0, 296.0),
        (306.0, 316.0),
        (447.0, 469.0),
        (625.0, 646.0),
        (660.0, 674.0),
    ];
    let cam = train(&capture, "CAM");
    let angles = |kind: EdgeKind| -> Vec<f64> {
        let all = cam.of_kind(kind).filter_map(|at| Some(crank.angle.angle_at(at)?.0 - start));
        all.filter(|angle| *angle >= 0.0).map(|angle| angle.rem_euclid(720.0)).collect()
    };
    let worst = |shift: f64| {
        let off = |kind: EdgeKind, place: fn(&(f64, f64)) -> f64| {
            let off = |angle: f64| {
                let near = places.iter().map(|one| {
                    CrankDelta(angle - place(one) - shift).wrap(CrankDelta(720.0)).0.abs()
                });
                near.fold(f64::INFINITY, f64::min)
            };
            angles(kind).into_iter().map(off).fold(0.0, f64::max)
        };
        off(Falling, |one| one.0).max(off(Rising, |one| one.1))
    };
    let least = [0.0, 180.0, 360.0, 540.0].map(worst).into_iter().fold(f64::INFINITY, f64::min);
    assert!(least <= 4.0, "an edge stands {least:.1}° off");
}
