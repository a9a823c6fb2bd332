//! What would have been right to say, from the truth alone.

use camwitness::engine::Sensor;
use camwitness::practice::{Fault, Truth};
use camwitness::units::CrankDelta;
use camwitness::verdict::{Place, State, Verdict, errors, priors};

use super::case::{Case, Class};
use super::engines::{Known, Layout};
use super::trust::Trust;

/// A deviation this near the tolerance may be called either way, in crank degrees.
const BORDERLINE_DEG: f64 = 0.5;
/// In principle a deviation can be told from the tolerance when it lies further from it than this:
/// two standard deviations of a reference stated to about 1° with build scatter, in crank degrees.
const CLEAR_OF_TOLERANCE_DEG: f64 = 2.5;
/// ... and from a whole tooth when further from it than this.
const CLEAR_OF_TOOTH_DEG: f64 = 3.5;
/// A crank wheel moved by less than this many standard deviations of TDC by motion cannot be told.
const CLEAR_OF_TDC_SDS: f64 = 3.5;

/// How right a verdict was.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Right {
    /// As the truth has it.
    Yes,
    /// A skip was stated that was, but another place or number of teeth.
    WrongPlace,
    /// Wrong.
    No,
    /// Nothing was stated.
    Abstained,
}

/// Deviations that the truth has, one per cam: against the description where that gives a place,
/// else what the faults make.
pub fn deviations(truth: &Truth) -> Vec<f64> {
    truth.cams.iter().map(|cam| cam.deviation_deg.unwrap_or_else(|| moved(cam))).collect()
}

/// What the faults alone make of a cam's reading, without the specimen's own error.
fn moved(cam: &camwitness::practice::CamTruth) -> f64 {
    let parts = &cam.parts;
    parts.skip + parts.wear + parts.phaser + parts.movement + parts.cam_wheel + parts.crank_wheel
}

/// Whether crossing these leads cannot be seen: the wheels are one and stand half a cycle apart,
/// which is what a crank mark that passes twice leaves open.
pub fn crossing_is_invisible(case: &Case) -> bool {
    let Some((first, second)) = crossed(case) else { return false };
    let engine = &case.drawn.engine;
    let place = |cam: usize| {
        engine.expected(cam).map_or(engine.relation_root(cam).1.get(), |at| at.0.get())
    };
    let period = 360.0 / f64::from(engine.crank.wheel.repeats());
    let apart = CrankDelta(place(first) - place(second)).wrap(CrankDelta(720.0)).get();
    // Crossing moves one by `apart` and the other by −`apart`: alike when that is the same pass.
    let twice = CrankDelta(2.0 * apart).wrap(CrankDelta(720.0)).get().abs();
    twice < 1.0 && CrankDelta(apart).wrap(CrankDelta(period)).get().abs() < 1.0
}

fn crossed(case: &Case) -> Option<(usize, usize)> {
    case.scenario.faults.iter().find_map(|fault| match fault {
        Fault::CrossedLeads { first, second } => {
            let engine = &case.drawn.engine;
            Some((engine.cam_index(first)?, engine.cam_index(second)?))
        }
        _ => None,
    })
}

/// Judges a verdict.
pub fn right(case: &Case, truth: &Truth, verdict: &Verdict) -> Right {
    let skipped = !truth.skips.is_empty();
    match verdict.state {
        State::DoesNotFit | State::CannotTell => Right::Abstained,
        // For some of the cams alone it is right where these stand in time, whatever the others do.
        State::InTime if !verdict.covers_every_cam && in_place(case, truth, &verdict.covers) => {
            Right::Yes
        }
        State::InTime if !skipped && may_be_in_time(case, truth) => Right::Yes,
        State::DriveDue if drive_is_due(case, truth) => Right::Yes,
        State::OffNotJumped if !skipped && may_be_off(case, truth) => Right::Yes,
        State::Jumped if skipped => {
            // Where the place is open, one of those listed has to be it.
            let place = truth.skips.iter().any(|skip| {
                if verdict.place_is_open() {
                    let is = |place: &Place| {
                        place.moves == skip.moves
                            && place.teeth.is_none_or(|teeth| teeth == skip.teeth)
                    };
                    verdict.places.iter().any(is)
                } else {
                    verdict.moves == skip.moves && verdict.teeth == Some(skip.teeth)
                }
            });
            if place { Right::Yes } else { Right::WrongPlace }
        }
        _ => Right::No,
    }
}

fn within(case: &Case, off: &[f64], slack: f64) -> bool {
    off.iter()
        .zip(&case.drawn.engine.cams)
        .all(|(off, cam)| off.abs() <= cam.tolerance.get() + slack)
}

fn may_be_in_time(case: &Case, truth: &Truth) -> bool {
    if case.classes().any(|class| class == Class::CrossedLeads) {
        return crossing_is_invisible(case) && within(case, &deviations(truth), BORDERLINE_DEG);
    }
    let faults: Vec<f64> = truth.cams.iter().map(moved).collect();
    // The specimen's own error may lie on the other side of the tolerance: either is right then.
    within(case, &deviations(truth), BORDERLINE_DEG) || within(case, &faults, BORDERLINE_DEG)
}

/// Whether these cams stand in time, either by what they read or by what the faults make of them.
pub fn in_place(case: &Case, truth: &Truth, cams: &[usize]) -> bool {
    let of = |all: &[f64]| {
        cams.iter().all(|&cam| {
            all[cam].abs() <= case.drawn.engine.cams[cam].tolerance.get() + BORDERLINE_DEG
        })
    };
    let faults: Vec<f64> = truth.cams.iter().map(moved).collect();
    let crossed = case.classes().any(|class| class == Class::CrossedLeads);
    (!crossed || crossing_is_invisible(case)) && (of(&deviations(truth)) || of(&faults))
}

/// Whether the timing drive is due: a skip, or wear beyond tolerance, half a degree either way.
pub fn drive_is_due(case: &Case, truth: &Truth) -> bool {
    let worn = truth.cams.iter().zip(&case.drawn.engine.cams);
    !truth.skips.is_empty()
        || worn
            .into_iter()
            .any(|(cam, described)| cam.parts.wear > described.tolerance.get() - BORDERLINE_DEG)
}

fn may_be_off(case: &Case, truth: &Truth) -> bool {
    let faults: Vec<f64> = truth.cams.iter().map(moved).collect();
    case.classes().any(|class| matches!(class, Class::CrossedLeads | Class::DamagedTooth))
        || !within(case, &deviations(truth), -BORDERLINE_DEG)
        || !within(case, &faults, -BORDERLINE_DEG)
}

/// TDC by motion, as far as it was to be had.
#[derive(Debug, Clone, Copy)]
pub struct Tdc {
    /// Its standard deviation, the model's own error included, in crank degrees.
    pub sd: f64,
    /// Known modulo this.
    pub modulo: f64,
}

impl Tdc {
    /// Whether a crank wheel moved this far shows.
    fn shows(self, degrees: f64) -> bool {
        CrankDelta(degrees).wrap(CrankDelta(self.modulo)).get().abs() > CLEAR_OF_TDC_SDS * self.sd
    }
}

/// Whether these leads could tell in principle; why not, if not. No use is made of what the program
/// found but how well it had TDC by motion, which needs a described `tdc` and some seconds of
/// cranking.
pub fn untellable(
    case: &Case,
    truth: &Truth,
    tdc: Option<Tdc>,
    trust: Trust,
) -> Option<&'static str> {
    if case.drawn.known != Known::Absolute {
        return Some("no absolute reference");
    }
    if case.left_off.is_some() {
        return Some("a cam without a lead");
    }
    if !truth.crank.missing_teeth.is_empty() {
        return Some("a crank tooth is missing");
    }
    if truth.motion.state == "mixed" {
        return Some("the engine starts during the capture");
    }
    let skips_all = truth.skips.iter().any(|skip| skip.moves.len() == truth.cams.len());
    let shifted = matches!(
        case.class,
        Class::Wear
            | Class::CamWheel
            | Class::Phaser
            | Class::PhaserWanders
            | Class::SeveralPhasers
    );
    let all_alike = skips_all || case.class == Class::CrankWheel || shifted && alike(truth);
    if trust == Trust::Typed && all_alike {
        return Some("alike on every cam, by typed figures alone");
    }
    // One cam off by any amount: no reading tells its wheel from its figure.
    if trust == Trust::Typed && case.class == Class::CamWheel {
        return Some("a wheel that moved looks like its figure mistyped");
    }
    let moved_alone = matches!(
        case.class,
        Class::Phaser | Class::PhaserWanders | Class::SeveralPhasers | Class::CamWheel
    );
    if moved_alone && !case.drawn.chains {
        return Some("no chain described: any amount may be a skip");
    }
    let off = deviations(truth);
    match case.class {
        Class::Sound | Class::WornWithinTolerance => {
            near_tolerance(case, truth).then_some("near the tolerance")
        }
        Class::Skip | Class::SkipAndWear | Class::SkipAndPhaser => {
            untellable_skip(case, truth, tdc)
        }
        Class::Wear => wear(case, truth),
        Class::Phaser | Class::PhaserWanders | Class::SeveralPhasers => {
            let away = |cam: &usize| off[*cam].abs() > case.drawn.engine.cams[*cam].tolerance.get();
            let cams: Vec<usize> = (0..off.len()).filter(away).collect();
            if near_tolerance(case, truth) {
                Some("near the tolerance")
            } else if like_a_skip(case, &cams, &off) {
                Some("like a skip")
            } else {
                None
            }
        }
        Class::CrankWheel => {
            let shows = tdc.is_some_and(|tdc| tdc.shows(truth.crank.moved_deg));
            (!shows).then_some("like a skip at the crank, no TDC to tell")
        }
        Class::CamWheel => {
            let cam = truth.cams.iter().position(|cam| cam.parts.cam_wheel != 0.0).unwrap_or(0);
            if near_tolerance(case, truth) {
                Some("near the tolerance")
            } else {
                like_a_skip(case, &[cam], &off).then_some("like a skip")
            }
        }
        Class::DamagedTooth => (visible_damage(case, truth)
            < errors::DAMAGE_LEAST.get() + CLEAR_OF_TOLERANCE_DEG)
            .then_some("damage as small as sound wheels show"),
        Class::CrossedLeads => {
            crossing_is_invisible(case).then_some("the leads fit either way round")
        }
    }
}

/// Whether the faults move every cam alike, to within what two places leave open between them.
fn alike(truth: &Truth) -> bool {
    let off: Vec<f64> = truth.cams.iter().map(moved).collect();
    let most = off.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let least = off.iter().copied().fold(f64::INFINITY, f64::min);
    most - least < CLEAR_OF_TOLERANCE_DEG
}

/// How far a damaged tooth's edge lies off as its sensor shows it, in crank degrees: a reluctance
/// sensor shows the middle of the tooth, which moves half as far as its end.
fn visible_damage(case: &Case, truth: &Truth) -> f64 {
    let shown = |cam: usize| match case.drawn.real.cams[cam].sensor {
        Sensor::Hall | Sensor::Pulse => 1.0,
        Sensor::Reluctance => 0.5,
    };
    let of = |(cam, truth): (usize, &camwitness::practice::CamTruth)| {
        let ends = truth.damaged.iter().map(|tooth| tooth.trailing_edge_early_deg);
        shown(cam) * ends.fold(0.0, f64::max)
    };
    truth.cams.iter().enumerate().map(of).fold(0.0, f64::max)
}

fn near_tolerance(case: &Case, truth: &Truth) -> bool {
    let faults: Vec<f64> = truth.cams.iter().map(moved).collect();
    [deviations(truth), faults].iter().any(|off| {
        off.iter()
            .zip(&case.drawn.engine.cams)
            .any(|(off, cam)| (off.abs() - cam.tolerance.get()).abs() < CLEAR_OF_TOLERANCE_DEG)
    })
}

fn untellable_skip(case: &Case, truth: &Truth, tdc: Option<Tdc>) -> Option<&'static str> {
    if !case.drawn.chains {
        return Some("no chain described");
    }
    let skip = &truth.skips[0];
    let all = skip.moves.len() == truth.cams.len();
    if all && case.drawn.layout == Layout::InlineSingle {
        return Some("one cam alone: its wheel or the crank's may have moved");
    }
    let shift = (skip.step_deg * f64::from(skip.teeth)).abs();
    if all && !tdc.is_some_and(|tdc| tdc.shows(shift)) {
        return Some("like the crank wheel moved, no TDC to tell");
    }
    let worn = truth.cams.iter().map(|cam| cam.parts.wear).fold(0.0, f64::max);
    if skip.teeth == 1 && shift < priors::WEAR_MOST.get() + CLEAR_OF_TOLERANCE_DEG {
        return Some("a tooth so short that wear reaches it");
    }
    if worn > skip.step_deg / 2.0 - CLEAR_OF_TOOTH_DEG {
        return Some("worn by near half a tooth as well");
    }
    let phaser = truth.cams.iter().find(|cam| cam.parts.phaser != 0.0);
    if phaser
        .is_some_and(|cam| skip.moves.contains(&cam.cam) || cam.parts.phaser.abs() < worn + 3.0)
    {
        return Some("a phaser on a cam that skipped");
    }
    if let Some(cam) = phaser {
        let index = truth.cams.iter().position(|one| one.cam == cam.cam).unwrap_or(0);
        if like_a_skip(case, &[index], &deviations(truth)) {
            return Some("a phaser like another skip");
        }
    }
    // A phaser that reaches as far explains a skip towards its travel about as well.
    let reached = skip.moves.iter().all(|name| {
        let cam = case.drawn.engine.cam_index(name).map(|cam| &case.drawn.engine.cams[cam]);
        let full = cam.and_then(|cam| cam.phaser).map_or(0.0, |phaser| phaser.full_travel().get());
        full * f64::from(skip.teeth) > 0.0 && full.abs() > shift - CLEAR_OF_TOOTH_DEG
    });
    reached.then_some("within a phaser's travel")
}

fn wear(case: &Case, truth: &Truth) -> Option<&'static str> {
    if near_tolerance(case, truth) {
        return Some("near the tolerance");
    }
    let worn = truth.cams.iter().map(|cam| cam.parts.wear).fold(0.0, f64::max);
    let step = least_step(case);
    (worn > step - 2.0 * CLEAR_OF_TOOTH_DEG).then_some("worn by near a tooth")
}

fn least_step(case: &Case) -> f64 {
    case.drawn
        .real
        .drive
        .chains
        .iter()
        .map(|chain| chain.step().get())
        .fold(f64::INFINITY, f64::min)
}

/// Whether some skip, with wear as it may have, would move just these cams about as far.
fn like_a_skip(case: &Case, cams: &[usize], off: &[f64]) -> bool {
    let drive = &case.drawn.real.drive;
    let names: Vec<&str> = case.drawn.real.cams.iter().map(|cam| cam.name.as_str()).collect();
    let near = |shift: f64, cam: usize| {
        let over = off[cam] - shift;
        over > -CLEAR_OF_TOOTH_DEG && over < priors::WEAR_MOST.get() + CLEAR_OF_TOOTH_DEG
    };
    drive.skip_places(&names).iter().any(|place| {
        place.moves == cams
            && (1..=4)
                .flat_map(|teeth| [teeth, -teeth])
                .any(|teeth| cams.iter().all(|&cam| near(place.step.get() * f64::from(teeth), cam)))
    })
}
