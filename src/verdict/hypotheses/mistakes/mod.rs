//! That the description, or the leads, do not describe this engine: the explanation that takes what
//! nothing else fits well.
//!
//! Each usual slip predicts where a sound engine would then seem to stand. Behind them stands a
//! density that prefers nothing: every cam anywhere in its period, 1/720 a degree for a wheel that
//! shows the whole cycle. A fault that puts n cams within a few degrees of where they are beats it
//! by two powers of ten for each of them; one that does not, cannot.

mod alike;
mod beside;
mod figures;
pub mod rates;

pub(super) use alike::twin;
pub(super) use beside::{with_a_figure_off, with_a_lead_delayed, with_places_off};

use super::context::Context;
use super::effects::EffectPrior;
use super::hypothesis::{Cause, Draft, EQUAL_FIT_DEG};
use super::model::Model;
use crate::cam::{CyclePosition, ExpectedFrom};
use crate::engine::Reference;
use crate::units::{CYCLE_DEG, Seconds};
use crate::verdict::readings::{Delayed, RowKind, Rows};
use crate::verdict::{Kind, Mistake};

/// Every way in which the description may be wrong, shares summing to about 1.
pub(super) fn mistakes(context: &Context) -> Vec<Draft> {
    let typed = Typed::new(context);
    let mut drafts = figures::all_places(context, &typed);
    drafts.extend(figures::one_figure(context, &typed));
    drafts.extend(leads(context));
    drafts.extend(other_wheel(context));
    drafts.extend(delayed(context));
    drafts.extend(other_engine(context));
    drafts
}

/// Whether every place that cams are held against was confirmed on a sound engine.
pub(super) fn confirmed(context: &Context) -> bool {
    let cams = context.evidence.cams;
    !cams.is_empty()
        && cams.iter().all(|cam| {
            cam.expected.is_some_and(|expected| expected.from == ExpectedFrom::KnownGood)
        })
}

/// Which of the measured cams hang on figures that somebody typed.
pub(super) struct Typed {
    /// Those held against an `at` of the engine file that nothing has confirmed.
    pub placed: Vec<usize>,
    /// Those that are held against another by a `later`.
    pub related: Vec<usize>,
}

impl Typed {
    pub(super) fn new(context: &Context) -> Typed {
        let evidence = context.evidence;
        let engine = evidence.engine;
        let measured = || evidence.cams.iter().map(|cam| (cam.measured.cam, cam.expected));
        let placed = measured()
            .filter(|(cam, expected)| match expected {
                Some(expected) => expected.from == ExpectedFrom::EngineFile,
                None => engine.expected(*cam).is_some(),
            })
            .map(|(cam, _)| cam)
            .collect();
        let known = |expected: Option<crate::cam::Expected>| {
            expected.is_some_and(|expected| expected.from == ExpectedFrom::KnownGood)
        };
        let related = measured()
            .filter(|(cam, expected)| {
                matches!(engine.cams[*cam].reference, Reference::SameAs { .. }) && !known(*expected)
            })
            .map(|(cam, _)| cam)
            .collect();
        Typed { placed, related }
    }

    /// Whether all measured cams are placed by typed figures.
    pub(super) fn all_placed(&self, rows: &Rows) -> bool {
        let cams = rows.list.iter().filter(|row| row.kind.is_cam());
        !self.placed.is_empty()
            && cams
                .clone()
                .all(|row| matches!(row.kind, RowKind::Cam(cam) if self.placed.contains(&cam)))
    }
}

/// The rows of some cams, and nothing else: a figure that is wrong moves no valve.
pub(super) fn rows_of_cams(rows: &Rows, cams: &[usize]) -> Vec<f64> {
    let of = |kind| matches!(kind, RowKind::Cam(cam) if cams.contains(&cam));
    rows.list.iter().map(|row| f64::from(u8::from(of(row.kind)))).collect()
}

/// A draft of a mistake.
pub(super) fn draft(mistake: Mistake, cams: Vec<usize>, share: f64, model: Model) -> Draft {
    let mut cause = Cause::of(Kind::DoesNotFit, None, cams);
    cause.mistake = Some(mistake);
    Draft::alone(cause, share, model)
}

/// The leads on other sensors, more than two of them: every order in which each wheel fits.
fn leads(context: &Context) -> Vec<Draft> {
    let orders = context.evidence.reordered;
    let labelled = context.rows.worst_deviation();
    let mut drafts = Vec::new();
    for (index, order) in orders.iter().enumerate() {
        let at = context.evidence.swapped.len() + index;
        let Some(rows) = context.crossed.get(at) else { continue };
        // One that fits no better says nothing.
        let all = order.on.iter().all(|&(cam, _)| context.rows.row_of(cam).is_some());
        if all && rows.worst_deviation() >= labelled - EQUAL_FIT_DEG {
            continue;
        }
        let cams = order.on.iter().map(|&(cam, _)| cam).collect();
        let share = rates::LEADS / orders.len() as f64;
        let mistake = Mistake::Leads(order.on.clone());
        let sound = Draft { swap: Some(at), ..draft(mistake, cams, share, Model::still(rows)) };
        let beside = with_one_off(context, rows).into_iter();
        drafts.extend(beside.map(|(part, model)| Draft {
            share: share * part,
            model,
            ..sound.clone()
        }));
    }
    drafts
}

/// What the engine was brought in for may show besides leads that are on other sensors: nothing, a
/// cam that is a few teeth off or whose phaser is, or the cams of a bank. Valves and compression go
/// along. Shares that sum to about 1.
fn with_one_off(context: &Context, rows: &Rows) -> Vec<(f64, Model)> {
    let engine = context.evidence.engine;
    let there: Vec<usize> =
        (0..engine.cams.len()).filter(|&cam| rows.row_of(cam).is_some()).collect();
    let beside = rates::LEADS_AND_A_FAULT;
    let sound = |cams: usize| (1.0 - beside).powi(cams as i32);
    let amount = EffectPrior::Even { from: -rates::FAULT_REACH.0, to: rates::FAULT_REACH.0 };
    let off = |cams: &[usize]| Model {
        shared: Some((rows.shafts_late(cams), amount)),
        ..Model::still(rows)
    };
    let mut models = vec![(sound(there.len()), Model::still(rows))];
    models.extend(there.iter().map(|&cam| (beside * sound(there.len() - 1), off(&[cam]))));
    for &bank in engine.banks.keys() {
        let cams: Vec<usize> =
            there.iter().copied().filter(|&cam| engine.cams[cam].bank == bank).collect();
        if cams.len() > 1 && cams.len() < there.len() {
            models.push((beside * beside * sound(there.len() - cams.len()), off(&cams)));
        }
    }
    models
}

/// The wheel of one cam is another than described, or that of all cams which have it by one line of
/// the file: each reads as anything, those of one wheel alike.
fn other_wheel(context: &Context) -> Vec<Draft> {
    let engine = context.evidence.engine;
    let each = rates::WHEEL / engine.cams.len() as f64;
    let mut by_line: Vec<(usize, Vec<usize>)> = Vec::new();
    for cam in (0..engine.cams.len()).filter(|&cam| context.rows.row_of(cam).is_some()) {
        let line = engine.relation_root(cam).0;
        match by_line.iter_mut().find(|(known, _)| *known == line) {
            Some((_, cams)) => cams.push(cam),
            None => by_line.push((line, vec![cam])),
        }
    }
    let mut drafts = Vec::new();
    for (line, cams) in by_line {
        let of_all = if cams.len() > 1 { rates::WHEEL_OF_ALL } else { 0.0 };
        drafts.extend(cams.iter().filter_map(|&cam| {
            let share = (1.0 - of_all) * each;
            another_wheel(context, cam, vec![cam], share)
        }));
        if of_all > 0.0 {
            let share = of_all * each * cams.len() as f64;
            drafts.extend(another_wheel(context, line, cams, share));
        }
    }
    drafts
}

/// The wheel by the line of a cam is another on these cams.
fn another_wheel(context: &Context, line: usize, cams: Vec<usize>, share: f64) -> Option<Draft> {
    let row = context.rows.row_of(*cams.first()?)?;
    let half = context.rows.list[row].period.unwrap_or(CYCLE_DEG) / 2.0;
    let amount = EffectPrior::Even { from: -half, to: half };
    let model = match cams.as_slice() {
        [_] => Model::moved_alone(context.rows, Some((row, vec![(1.0, amount)]))),
        several => {
            let shared = Some((rows_of_cams(context.rows, several), amount));
            Model { shared, ..Model::still(context.rows) }
        }
    };
    let fits = context.evidence.other_wheels.iter().find(|(of, _)| cams.contains(of));
    let with = cams.iter().copied().filter(|&cam| cam != line).collect();
    let mistake = Mistake::Wheel { cam: line, with, fits: fits.map(|(_, name)| name.clone()) };
    let plain = draft(mistake, cams.clone(), share, model);
    Some(Draft { foreign: cams, ..plain })
}

/// A lead shows its cam later than it is by a steady time, or that of the crank every cam earlier.
fn delayed(context: &Context) -> Vec<Draft> {
    let evidence = context.evidence;
    let leads = 1.0 + evidence.engine.cams.len() as f64;
    let amount = |speed: f64| {
        let late = |time: Seconds| time.0 * speed;
        let (from, to) = (late(rates::DELAY_LEAST), late(rates::DELAY_MOST));
        EffectPrior::Fading { from, to, mean: late(rates::DELAY_MEAN) }
    };
    // A crank that stands still shows no delay.
    let speed_at = |cam: usize| {
        let cycles = &evidence.cam(cam)?.measured.cycles;
        let speed = CyclePosition::mean_rpm(cycles)?.degrees_per_second();
        (speed > 0.0).then_some(speed)
    };
    let one = |of: Option<usize>, cams: Vec<usize>, model: Model| {
        let plain = draft(Mistake::Delayed(of), cams.clone(), rates::DELAYED / leads, model);
        let delayed = cams.into_iter().map(|cam| Delayed { cam, stands: 0.0 }).collect();
        Draft { delayed, ..plain }
    };
    let of_cam = |cam: usize| {
        let row = context.rows.row_of(cam)?;
        let alone = Some((row, vec![(1.0, amount(speed_at(cam)?))]));
        Some(one(Some(cam), vec![cam], Model::moved_alone(context.rows, alone)))
    };
    let mut drafts: Vec<Draft> = (0..evidence.engine.cams.len()).filter_map(of_cam).collect();
    // All of them by the speed of the first: a cycle takes as long on every cam.
    let shown: Vec<usize> = evidence.cams.iter().map(|cam| cam.measured.cam).collect();
    let speed = shown.iter().copied().find_map(speed_at);
    drafts.extend(speed.map(|speed| {
        let shared = Some((context.rows.crank_lead_late(), amount(speed)));
        one(None, shown, Model { shared, ..Model::still(context.rows) })
    }));
    drafts
}

/// Nothing fits: every cam anywhere, and TDC as well.
fn other_engine(context: &Context) -> Vec<Draft> {
    let rows = context.rows;
    let mut model = Model::still(rows);
    let mut cams = Vec::new();
    for (index, row) in rows.list.iter().enumerate() {
        match row.kind {
            RowKind::Cam(cam) => cams.push(cam),
            RowKind::Tdc { .. } => {}
            RowKind::Compression | RowKind::Valve { .. } | RowKind::Learned(_) => continue,
        }
        let half = row.period.unwrap_or(CYCLE_DEG) / 2.0;
        model.own.push((index, vec![(1.0, EffectPrior::Even { from: -half, to: half })]));
    }
    if cams.is_empty() {
        return vec![];
    }
    let one = |share: f64, foreign: Vec<usize>| {
        let plain =
            draft(Mistake::OtherEngine, cams.clone(), rates::NOTHING * share, model.clone());
        Draft { foreign, ..plain }
    };
    vec![one(rates::WHEELS_ALIKE, vec![]), one(1.0 - rates::WHEELS_ALIKE, cams.clone())]
}
