//! Captures that carry the clamp and no crank, beside those that carry the crank: the compression
//! of the file with the best lead, its cylinders named by whatever any file knows.

use super::compress::{Heard, compress};
use super::join::Joined;
use super::{AnalysisError, MeasuredCapture, Options, cranking};
use crate::angle::AngleFrom;
use crate::capture::Capture;
use crate::compression::{Compression, CompressionOutcome, CylinderResult, Source};
use crate::engine::Engine;
use crate::leads::{LeadRequest, assign};
use crate::notice::Notice;
use crate::units::{CYCLE_DEG, CrankDelta};

/// One way of naming the compressions is taken over another when its misfit to the named ones of
/// another file is less by this: χ² for odds of 100 to 1.
const TELLS_APART: f64 = 9.2;

/// Indices of the captures with a crank lead, and of those that show compressions without one. All
/// are of the first kind where none has a crank: what is missing is then said of them.
///
/// # Errors
/// Leads that cannot be assigned.
pub(super) fn part(
    captures: &[Capture],
    engine: &Engine,
    requests: &[Vec<LeadRequest>],
) -> Result<(Vec<usize>, Vec<usize>), AnalysisError> {
    let (mut with_crank, mut without) = (Vec::new(), Vec::new());
    for (index, (capture, requests)) in captures.iter().zip(requests).enumerate() {
        if captures.len() > 1 && cranking::shows_compressions_alone(capture, engine, requests)? {
            without.push(index);
        } else {
            with_crank.push(index);
        }
    }
    if with_crank.is_empty() {
        return Ok((without, Vec::new()));
    }
    Ok((with_crank, without))
}

/// Names the compressions of a capture whose own leads do not, by a capture that knows its
/// cylinders: of the passes the crank's mark may be, the one under which both tell the same of each
/// cylinder.
pub(super) fn name_by_others(
    captures: &[&Capture],
    engine: &Engine,
    options: &[Options],
    measured: &mut [MeasuredCapture],
) -> Result<(), AnalysisError> {
    let named =
        |outcome: &CompressionOutcome| outcome.measured.as_ref().is_some_and(Compression::is_named);
    let Some(pattern) = measured
        .iter()
        .filter(|one| named(&one.compression))
        .max_by_key(|one| worth(&one.compression))
        .and_then(|one| one.compression.measured.clone())
    else {
        return Ok(());
    };
    for (at, one) in measured.iter_mut().enumerate() {
        if one.compression.measured.is_none()
            || named(&one.compression)
            || engine.crank.tdc.is_none()
        {
            continue;
        }
        let leads = assign(captures[at], engine, &options[at].leads)?;
        let heard = Heard { capture: captures[at], engine, leads: &leads };
        let modulo = one.crank.angle.known_modulo().0.clamp(1.0, CYCLE_DEG);
        let passes = (CYCLE_DEG / modulo).round() as usize;
        let mut tried: Vec<(f64, CompressionOutcome)> = (0..passes)
            .map(|pass| {
                let shift = one.datum.shift + CrankDelta(pass as f64 * modulo);
                let angle = (&one.crank.angle, AngleFrom::Crank);
                compress(&heard, angle, Some(shift), &one.cams, &mut Vec::new())
            })
            .filter_map(|outcome| {
                Some((misfit(&outcome.measured.as_ref()?.cylinders, &pattern.cylinders)?, outcome))
            })
            .collect();
        tried.sort_by(|a, b| a.0.total_cmp(&b.0));
        let clear = tried.len() == 1 || tried.len() > 1 && tried[1].0 - tried[0].0 > TELLS_APART;
        if clear {
            one.compression = tried.swap_remove(0).1;
            one.notices.push(Notice {
                about: one.capture.clone(),
                text: "Its cylinders are named by the compressions of another file.".into(),
            });
        }
    }
    Ok(())
}

/// χ² between the cylinders of two measurements; `None` where one is missing.
fn misfit(one: &[CylinderResult], other: &[CylinderResult]) -> Option<f64> {
    let half = |(low, high): (f64, f64)| 0.5 * (high - low);
    one.iter()
        .map(|mine| {
            mine.cylinder?;
            let same = other.iter().find(|theirs| theirs.cylinder == mine.cylinder)?;
            let sd = half(mine.ci95).hypot(half(same.ci95)) / crate::stats::NORMAL95;
            Some(((mine.relative - same.relative) / sd).powi(2))
        })
        .sum()
}

/// How much a measurement of compression is worth, to compare: named before unnamed, then by its
/// source, then by cycles.
pub(super) fn worth(outcome: &CompressionOutcome) -> (bool, bool, u8, usize) {
    let Some(measured) = &outcome.measured else { return (false, false, 0, 0) };
    let source = match measured.source {
        Source::StarterCurrent => 3,
        Source::BatteryVoltage => 2,
        Source::CrankSpeed => 1,
    };
    (true, measured.is_named(), source, measured.cycles_used)
}

/// Adds the captures without a crank to those with one. `captures` are those without.
pub(super) fn add(
    joined: &mut Joined,
    captures: &[&Capture],
    requests: &[Vec<LeadRequest>],
    engine: &Engine,
    options: &Options,
) -> Result<(), AnalysisError> {
    let main = &mut joined.main;
    match cranking::measure(captures, requests, engine, options) {
        Ok(test) => {
            let better = &test.main().compression;
            if worth(better) > worth(&main.compression) {
                let theirs = better.clone();
                let own = std::mem::replace(&mut main.compression, theirs);
                main.compression.tdc = own.tdc;
                main.compression.pressure.extend(own.pressure);
            }
            main.leads.extend(test.leads);
            main.notices.extend(test.warnings);
        }
        // The timing stands without it.
        Err(AnalysisError::NoAngle { capture, error }) => main
            .notices
            .push(Notice { about: capture, text: format!("Not used for compression: {error}.") }),
        Err(error) => return Err(error),
    }
    main.expect_compression(engine);
    Ok(())
}
