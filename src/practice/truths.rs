//! Gathers the truth about a capture from what the model did.

use crate::capture::CaptureKind;
use crate::units::{CYCLE_DEG, CrankDelta, TURN_DEG};
use crate::wheel::Form;

use super::build::Build;
use super::channels::{Made, crank_edge};
use super::mechanics::Mechanics;
use super::motion::{Course, Motion};
use super::truth::{
    CamParts, CamTruth, CrankTruth, CylinderTruth, DamageTruth, LeadTruth, MotionTruth, SkipTruth,
    Truth,
};
use super::{Ending, Scenario};

/// Spin-up that is not counted as steady, in seconds after the starter engages.
const SPIN_UP_S: f64 = 0.6;

/// Everything that is true of a capture.
pub(super) fn tell(
    scenario: &Scenario,
    build: &Build,
    mechanics: &Mechanics,
    motion: &Motion,
    course: &Course,
    made: &Made,
) -> Truth {
    let engine = &scenario.engine;
    let steady = steady_part(course);
    let crank = &engine.crank;
    let edge = match crank.wheel.form() {
        Form::Slots { .. } => crank_edge(engine).word(),
        Form::Teeth(_) => "rising",
    };
    Truth {
        format: "camwitness-practice-truth/1",
        engine: engine.name.clone(),
        seed: scenario.seed,
        take: scenario.take,
        preset: scenario.preset,
        exact: scenario.exact,
        faults: scenario.faults.iter().map(ToString::to_string).collect(),
        crank: CrankTruth {
            wheel: crank.wheel.name().to_owned(),
            edge,
            moved_deg: build.crank_wheel,
            tdc_deg: (build.tdc - build.crank_wheel).rem_euclid(CYCLE_DEG),
            missing_teeth: build.missing.iter().map(|tooth| tooth + 1).collect(),
            datum_passes_s: motion.passes(build.crank_wheel),
        },
        cams: (0..engine.cams.len())
            .map(|index| cam(scenario, build, motion, steady, made, index))
            .collect(),
        skips: build
            .skips
            .iter()
            .map(|skip| SkipTruth {
                on: skip.on.clone(),
                chain: skip.chain.clone(),
                teeth: skip.teeth,
                step_deg: skip.step,
                moves: skip.moves.iter().map(|&cam| engine.cams[cam].name.clone()).collect(),
            })
            .collect(),
        leads: leads(scenario, build, made),
        cylinders: cylinders(scenario, mechanics, motion, steady),
        motion: turning(scenario, motion, steady),
        rate: (scenario.kind == CaptureKind::Sampled).then_some(scenario.rate),
        rows: made.capture.rows(),
    }
}

/// From after the spin-up to the end of cranking.
fn steady_part(course: &Course) -> (f64, f64) {
    let end = course.starter.1.min(course.fires.unwrap_or(f64::INFINITY)).min(course.seconds);
    let from = course.starter.0 + SPIN_UP_S;
    // A very short capture is all spin-up: take its second half.
    if from + 0.5 * (end - course.starter.0) > end {
        ((course.starter.0 + end) / 2.0, end)
    } else {
        (from, end)
    }
}

fn cam(
    scenario: &Scenario,
    build: &Build,
    motion: &Motion,
    steady: (f64, f64),
    made: &Made,
    index: usize,
) -> CamTruth {
    let (cam, stand) = (&scenario.engine.cams[index], &build.cams[index]);
    let entries = motion.entries(steady.0, steady.1);
    let moves = made.cam_moves[index].get(entries).unwrap_or_default();
    let movement =
        moves.iter().map(|&late| f64::from(late)).sum::<f64>() / moves.len().max(1) as f64;
    let position = stand.sound + stand.valves_late() + movement + stand.wheel - build.crank_wheel;
    let wrap = |degrees: f64| CrankDelta(degrees).wrap(CrankDelta(CYCLE_DEG)).0;
    CamTruth {
        cam: cam.name.clone(),
        bank: cam.bank,
        position_deg: position.rem_euclid(CYCLE_DEG),
        expected_deg: stand.expected,
        deviation_deg: stand.expected.map(|expected| wrap(position - expected)),
        parts: CamParts {
            reference_error: stand.expected.map_or(0.0, |expected| wrap(stand.sound - expected)),
            skip: stand.skip,
            wear: stand.wear,
            phaser: stand.phaser,
            movement,
            cam_wheel: stand.wheel,
            crank_wheel: -build.crank_wheel,
        },
        valves_deg: stand.valves_late() + movement,
        damaged: made.damage[index]
            .iter()
            .map(|&(tooth, gone)| DamageTruth {
                tooth: tooth + 1,
                trailing_edge_early_deg: crate::units::CamDelta(gone).to_crank().0,
            })
            .collect(),
    }
}

fn leads(scenario: &Scenario, build: &Build, made: &Made) -> Vec<LeadTruth> {
    let engine = &scenario.engine;
    made.leads
        .iter()
        .zip(&made.carries)
        .zip(&made.dirt)
        .map(|((lead, carries), dirt)| LeadTruth {
            lead: lead.name(engine),
            carries: carries.name(engine),
            polarity: if build.reversed.contains(lead) { "inverted" } else { "normal" },
            dirt: *dirt,
        })
        .collect()
}

fn cylinders(
    scenario: &Scenario,
    mechanics: &Mechanics,
    motion: &Motion,
    steady: (f64, f64),
) -> Vec<CylinderTruth> {
    let peak = |index: usize| {
        let peaks: Vec<f64> = motion
            .peaks
            .iter()
            .filter(|(of, at, _)| *of == index && (steady.0..steady.1).contains(at))
            .map(|&(_, _, peak)| peak)
            .collect();
        peaks.iter().sum::<f64>() / peaks.len().max(1) as f64
    };
    let peaks: Vec<f64> = (0..mechanics.cylinders.len()).map(peak).collect();
    let mean = peaks.iter().sum::<f64>() / peaks.len().max(1) as f64;
    mechanics
        .cylinders
        .iter()
        .zip(&peaks)
        .map(|(cylinder, &peak)| CylinderTruth {
            cylinder: cylinder.number,
            bank: scenario.engine.bank_of(cylinder.number).unwrap_or(1),
            peak,
            relative: if mean > 0.0 { peak / mean } else { 0.0 },
            of_sound: peak / cylinder.sound_peak,
        })
        .collect()
}

fn turning(scenario: &Scenario, motion: &Motion, steady: (f64, f64)) -> MotionTruth {
    let entries = motion.entries(steady.0, steady.1);
    let rpm: Vec<f64> = motion.speed[entries.clone()].iter().map(|speed| speed / 6.0).collect();
    let turned = motion.angle[entries.end - 1] - motion.angle[entries.start];
    let most = motion.angle.iter().fold(f64::NEG_INFINITY, |most, &angle| most.max(angle));
    let last = motion.angle[motion.angle.len() - 1];
    let least = rpm.iter().fold(f64::INFINITY, |least, &rpm| least.min(rpm));
    let highest = rpm.iter().fold(0.0_f64, |most, &rpm| most.max(rpm));
    MotionTruth {
        state: if scenario.ending == Ending::Starts { "mixed" } else { "cranking" },
        from_s: steady.0,
        to_s: steady.1,
        rpm_mean: turned / 6.0 / (rpm.len().max(2) - 1) as f64 / Motion::STEP,
        rpm_min: least,
        rpm_max: highest,
        ripple: ripple(&motion.angle[entries.clone()], &rpm),
        cycles: turned / CYCLE_DEG,
        turns: (most - motion.angle[0]) / TURN_DEG,
        rocked_back_deg: most - last,
    }
}

/// (max − min) / mean of the speed within a turn, mean over whole turns; 0 for none.
fn ripple(angle: &[f64], rpm: &[f64]) -> f64 {
    let (mut sum, mut turns, mut start) = (0.0, 0_u32, 0);
    for index in 0..angle.len() {
        if angle[index] - angle[start] < TURN_DEG {
            continue;
        }
        let turn = &rpm[start..index];
        let high = turn.iter().fold(0.0_f64, |most, &rpm| most.max(rpm));
        let low = turn.iter().fold(f64::INFINITY, |least, &rpm| least.min(rpm));
        sum += (high - low) / (turn.iter().sum::<f64>() / turn.len() as f64);
        (turns, start) = (turns + 1, index);
    }
    if turns == 0 { 0.0 } else { sum / f64::from(turns) }
}
