//! The measurements as one list of readings with a joint error.
//!
//! A row is one reading: a cam's deviation, the engine's own TDC, or the bank difference of
//! compression. Every explanation is a vector of effects over these rows. Errors are
//! normal: each row has one of its own, and several rows share one where they hang on the
//! same reference. Inside the verdict the numbers of a cam or TDC row are crank
//! degrees, positive late; those of the compression row are shares of the mean.

use super::errors;
use super::misregistered::misregistered;
use super::other_rows::{compression_row, learned_rows, namings, tdc_row};
use super::outliers::made_of_noise;
use super::pressure_rows;
use crate::cam::deviation::late;
use crate::cam::{CamPosition, Expected, ExpectedFrom, own_period};
use crate::crank::WhyDoubted;
use crate::engine::{DEFAULT_RELATION_SD, Engine, Reference};
use crate::stats::NORMAL95;
use crate::units::{CYCLE_DEG, CrankDeg, CrankDelta};
use crate::verdict::evidence::Evidence;

/// What a row is a reading of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum RowKind {
    /// A cam of the engine.
    Cam(usize),
    /// TDC found − TDC described.
    Tdc {
        /// By how the crank turns; else by the pressure in a cylinder.
        by_motion: bool,
    },
    /// Bank difference of compression.
    Compression,
    /// An event of the valves that a cam works, read off the pressure: intake closing, or exhaust
    /// opening.
    Valve {
        /// The cam, an index into those of the engine.
        cam: usize,
        /// Intake closing.
        intake: bool,
    },
    /// The offset of a cam that the controller has learned since it was new.
    Learned(usize),
}

impl RowKind {
    /// A cam's reading.
    pub(crate) fn is_cam(self) -> bool {
        matches!(self, RowKind::Cam(_))
    }
}

/// One reading.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Row {
    pub kind: RowKind,
    /// Reading less what a sound engine gives.
    pub reading: f64,
    /// The reading is known only up to a multiple of this.
    pub period: Option<f64>,
    /// Variance of the error no other row shares.
    pub variance: f64,
    /// Probability, before the character of its signal is weighed, that the reading is made of
    /// noise.
    pub outlier: f64,
    /// Probability that the wheel was recognised the wrong way round; its signal then has the
    /// character of a wheel's all the same.
    pub misregistered: f64,
    /// Density of the reading when it says nothing.
    pub outlier_density: f64,
    /// Rows with the same number hang on one reference whose place is not known.
    pub unreferenced: Option<usize>,
}

/// All readings of one way to assign the leads.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Rows {
    pub list: Vec<Row>,
    /// Errors shared between rows: who has it, and its standard deviation.
    pub shared: Vec<(Vec<f64>, f64)>,
    /// Crank degrees by which all cams together may be misread.
    pub passes: Vec<f64>,
    /// Crank degrees by which all cams and TDC read later than they do, with the probability that
    /// they should: nothing, and where the marking edge is in doubt what the other edge makes.
    pub edges: Vec<(f64, f64)>,
    /// Signs that the bank difference of compression may have: both where the lower bank has no
    /// name.
    pub namings: Vec<f64>,
    per_degree: Vec<f64>,
}

impl Rows {
    /// Readings with the leads as labelled, or with those of some cams taken from other leads:
    /// `instead`.
    pub(crate) fn new(evidence: &Evidence, instead: &[&CamPosition]) -> Rows {
        let engine = evidence.engine;
        let mut list = Vec::new();
        let mut roots: Vec<(usize, f64)> = Vec::new();
        for cam in 0..engine.cams.len() {
            let Some(measured) = position(evidence, instead, cam) else { continue };
            let (row, root_sd) = cam_row(evidence, cam, measured);
            roots.push((
                if root_sd > 0.0 { engine.relation_root(cam).0 } else { usize::MAX },
                root_sd,
            ));
            list.push(row);
        }
        let cams = list.len();
        list.extend(tdc_row(evidence));
        list.extend(pressure_rows::tdc_row(evidence));
        list.extend(pressure_rows::valve_rows(evidence));
        list.extend(learned_rows(evidence));
        let per_degree = evidence.compression.as_ref().map_or(vec![], |c| c.per_degree.clone());
        let mut rows = Rows {
            list,
            shared: vec![],
            passes: passes(evidence),
            edges: edges(evidence),
            namings: namings(evidence),
            per_degree,
        };
        rows.list.extend(compression_row(evidence));
        rows.share_references(&roots[..cams], errors::CRANK_BUILD_SD.0);
        rows.shared.extend(pressure_rows::shared(&rows.list, evidence));
        rows
    }

    /// No rows and one pass, for tests of the arithmetic.
    #[cfg(test)]
    pub(crate) fn bare() -> Rows {
        let (passes, edges) = (vec![0.0], vec![(0.0, 1.0)]);
        let namings = vec![1.0];
        Rows { list: vec![], shared: vec![], passes, edges, namings, per_degree: vec![] }
    }

    /// Adds the reference errors that several cams have in common.
    fn share_references(&mut self, roots: &[(usize, f64)], crank_sd: f64) {
        for cam in 0..roots.len() {
            let (root, sd) = roots[cam];
            if root == usize::MAX || roots[..cam].iter().any(|&(other, _)| other == root) {
                continue;
            }
            let pattern =
                self.pattern(|row| roots.get(row).is_some_and(|&(other, _)| other == root));
            self.shared.push((pattern, sd));
        }
        let all = self.pattern(|row| matches!(self.list[row].kind, RowKind::Cam(_)));
        self.shared.push((all, crank_sd));
    }

    fn pattern(&self, has: impl Fn(usize) -> bool) -> Vec<f64> {
        (0..self.list.len()).map(|row| if has(row) { 1.0 } else { 0.0 }).collect()
    }

    /// Covariance of the errors of two rows, `more` being further errors that rows share.
    pub(crate) fn covariance(&self, a: usize, b: usize, more: &[(Vec<f64>, f64)]) -> f64 {
        let common = self.shared.iter().chain(more);
        let shared: f64 = common.map(|(p, sd)| p[a] * p[b] * sd * sd).sum();
        shared + if a == b { self.list[a].variance } else { 0.0 }
    }

    /// Effect of the shafts of `cams` really turning one degree late.
    pub(crate) fn shafts_late(&self, cams: &[usize]) -> Vec<f64> {
        self.list
            .iter()
            .map(|row| match row.kind {
                RowKind::Cam(cam) | RowKind::Valve { cam, .. } => {
                    f64::from(u8::from(cams.contains(&cam)))
                }
                RowKind::Tdc { .. } | RowKind::Learned(_) => 0.0,
                RowKind::Compression => {
                    cams.iter().map(|&cam| self.per_degree.get(cam).copied().unwrap_or(0.0)).sum()
                }
            })
            .collect()
    }

    /// Effect of the crank's reference standing one degree late: every cam looks early, and so
    /// does TDC; compression does not change.
    pub(crate) fn crank_reference_late(&self) -> Vec<f64> {
        let effect = |row: &Row| match row.kind {
            RowKind::Cam(_) | RowKind::Tdc { .. } => -1.0,
            RowKind::Compression | RowKind::Valve { .. } | RowKind::Learned(_) => 0.0,
        };
        self.list.iter().map(effect).collect()
    }

    /// Effect of the crank's lead coming as late as the crank turns one degree: every cam looks early,
    /// and so does TDC by the pressure. TDC by the motion does not, which that lead shows itself.
    pub(crate) fn crank_lead_late(&self) -> Vec<f64> {
        let reference = self.list.iter().zip(self.crank_reference_late());
        let effect = |(row, late): (&Row, f64)| match row.kind {
            RowKind::Tdc { by_motion: true } => 0.0,
            _ => late,
        };
        reference.map(effect).collect()
    }

    /// Effect on what the controller has learned of some cams having crept late by a degree. What
    /// came at once since then, such as a skip, is not in it.
    pub(crate) fn learned_late(&self, cams: &[usize]) -> Vec<f64> {
        let of = |row: &Row| matches!(row.kind, RowKind::Learned(cam) if cams.contains(&cam));
        self.list.iter().map(|row| f64::from(u8::from(of(row)))).collect()
    }

    /// The rows of the valves that a cam works.
    pub(crate) fn valves_of(&self, cam: usize) -> Vec<usize> {
        let of = |row: &Row| matches!(row.kind, RowKind::Valve { cam: works, .. } if works == cam);
        (0..self.list.len()).filter(|&row| of(&self.list[row])).collect()
    }

    /// The row of compression, when it was measured.
    pub(crate) fn compression_row(&self) -> Option<usize> {
        self.list.iter().position(|row| row.kind == RowKind::Compression)
    }

    /// The row of a cam, when it was measured.
    pub(crate) fn row_of(&self, cam: usize) -> Option<usize> {
        self.list.iter().position(|row| row.kind == RowKind::Cam(cam))
    }

    /// How late a cam reads, counted from a place so late and from the pass at which the cams stand
    /// closest; nothing where it was not measured.
    pub(crate) fn later_than(&self, cam: usize, stands: f64) -> f64 {
        let row = self.row_of(cam).map(|row| &self.list[row]);
        row.map_or(0.0, |row| wrap(row.reading - self.likeliest_pass() - stands, row.period))
    }

    /// Least deviation of one row from a place `apart` crank degrees after its own, over the
    /// passes.
    pub(crate) fn least_deviation(&self, row: usize, apart: f64) -> f64 {
        let row = &self.list[row];
        let off = |pass: &f64| wrap(row.reading - pass - apart, row.period).abs();
        self.passes.iter().map(off).fold(f64::INFINITY, f64::min)
    }

    /// The cam that stands furthest beyond its tolerance (`tolerance` of a cam, crank degrees) by
    /// more than `sds` standard deviations of its reading, at the pass where that is least; `None`
    /// when some pass leaves every cam of known place within. Cams only known against each other
    /// are not looked at.
    pub(crate) fn beyond(&self, tolerance: impl Fn(usize) -> f64, sds: f64) -> Option<usize> {
        let excess = |row: usize, pass: f64| {
            let RowKind::Cam(cam) = self.list[row].kind else { return None };
            if self.list[row].unreferenced.is_some() {
                return None;
            }
            let off = wrap(self.list[row].reading - pass, self.list[row].period).abs();
            Some((cam, off - tolerance(cam) - sds * self.covariance(row, row, &[]).sqrt()))
        };
        let worst = |pass: f64| {
            (0..self.list.len())
                .filter_map(|row| excess(row, pass))
                .max_by(|a, b| a.1.total_cmp(&b.1))
        };
        self.passes
            .iter()
            .filter_map(|&pass| worst(pass))
            .min_by(|a, b| a.1.total_cmp(&b.1))
            .filter(|&(_, excess)| excess > 0.0)
            .map(|(cam, _)| cam)
    }

    /// Least, over the passes, of the largest deviation of all cams; infinite without cams.
    pub(crate) fn worst_deviation(&self) -> f64 {
        if !self.list.iter().any(|row| row.kind.is_cam()) {
            return f64::INFINITY;
        }
        self.passes.iter().map(|&pass| self.worst_at(pass)).fold(f64::INFINITY, f64::min)
    }

    /// The pass at which the largest deviation of all cams is least, crank degrees.
    pub(crate) fn likeliest_pass(&self) -> f64 {
        let least = |a: &&f64, b: &&f64| self.worst_at(**a).total_cmp(&self.worst_at(**b));
        self.passes.iter().min_by(least).copied().unwrap_or(0.0)
    }

    fn worst_at(&self, pass: f64) -> f64 {
        let cams = self.list.iter().filter(|row| row.kind.is_cam());
        cams.map(|row| wrap(row.reading - pass, row.period).abs()).fold(0.0, f64::max)
    }
}

/// Brings a reading into the half period either side of zero.
pub(crate) fn wrap(reading: f64, period: Option<f64>) -> f64 {
    period.map_or(reading, |period| CrankDelta(reading).wrap(CrankDelta(period)).0)
}

fn position<'a>(
    evidence: &'a Evidence,
    instead: &[&'a CamPosition],
    cam: usize,
) -> Option<&'a CamPosition> {
    let other = instead.iter().find(|position| position.cam == cam).copied();
    other.or_else(|| evidence.cam(cam).map(|result| &result.measured))
}

/// A cam's row, and the standard deviation of the error it shares with the cams of its root.
fn cam_row(evidence: &Evidence, cam: usize, measured: &CamPosition) -> (Row, f64) {
    let engine = evidence.engine;
    let stated = evidence.cam(cam).and_then(|result| result.expected);
    let from_file = || {
        let (at, sd) = engine.expected(cam)?;
        Some(Expected { at, sd, from: ExpectedFrom::EngineFile })
    };
    let expected = stated.or_else(from_file);
    let (root, later) = engine.relation_root(cam);
    let nominal = expected.map_or(CrankDeg::new(later.0), |expected| expected.at);
    let measurement = (measured.half_width95.0 / NORMAL95).max(errors::LEAST_MEASUREMENT_SD.0);
    let (reference_variance, root_sd) = match expected.map(|expected| (expected.from, expected.sd))
    {
        Some((ExpectedFrom::KnownGood, sd)) => (sd.unwrap_or(errors::KNOWN_GOOD_SD).0.powi(2), 0.0),
        Some((ExpectedFrom::EngineFile, _)) => {
            (relation_variance(engine, cam) + errors::CAM_BUILD_SD.0.powi(2), root_sd(engine, root))
        }
        None => (relation_variance(engine, cam) + errors::CAM_BUILD_SD.0.powi(2), UNREFERENCED_SD),
    };
    let period = own_period(&engine.cams[cam], measured.known_modulo).0;
    let row = Row {
        kind: RowKind::Cam(cam),
        reading: late(measured.position, nominal, CrankDelta(CYCLE_DEG)).0,
        period: Some(period),
        variance: measurement * measurement + reference_variance,
        outlier: made_of_noise(evidence, measured),
        misregistered: misregistered(measured),
        outlier_density: 1.0 / period,
        unreferenced: expected.is_none().then_some(root),
    };
    (row, root_sd)
}

/// Standard deviation of a reference that may lie anywhere in the cycle: 720/√12.
const UNREFERENCED_SD: f64 = CYCLE_DEG / 3.464_101_615_137_754_6;

/// What either kind of edge of the crank signal makes of all readings, with its probability.
fn edges(evidence: &Evidence) -> Vec<(f64, f64)> {
    let Some((why, later)) = evidence.crank.other_edge else { return vec![(0.0, 1.0)] };
    let other = match why {
        WhyDoubted::Unstated => errors::OTHER_EDGE_UNSTATED,
        WhyDoubted::SpacingContradicts => errors::OTHER_EDGE_BY_SPACING,
        WhyDoubted::OtherWayUp if evidence.engine.crank.level_described() => {
            errors::OTHER_EDGE_OTHER_WAY_UP
        }
        WhyDoubted::OtherWayUp => errors::OTHER_EDGE_LEVEL_UNSTATED,
        WhyDoubted::WiresExchanged => return vec![(0.0, 1.0)],
    };
    vec![(0.0, 1.0 - other), (later.0, other)]
}

fn root_sd(engine: &Engine, root: usize) -> f64 {
    match engine.cams[root].reference {
        Reference::At { sd: Some(sd), .. } => sd.0.max(f64::MIN_POSITIVE),
        _ => errors::DEFAULT_AT_SD.0,
    }
}

/// Variance added by the relations that lead from a cam to its root.
fn relation_variance(engine: &Engine, cam: usize) -> f64 {
    let (mut at, mut variance) = (cam, 0.0);
    while let Reference::SameAs { cam: next, sd, .. } = engine.cams[at].reference {
        variance += sd.unwrap_or(DEFAULT_RELATION_SD).0.powi(2);
        at = next;
    }
    variance
}

/// Every pass of the cycle that the crank wheel alone cannot tell from the first.
fn passes(evidence: &Evidence) -> Vec<f64> {
    let period = evidence.crank.known_modulo.0;
    // A period of nothing would never end; the crank stage gives 360 or a divisor of it.
    if period < 1.0 {
        return vec![0.0];
    }
    let count = (CYCLE_DEG / period).round().max(1.0) as usize;
    (0..count).map(|pass| pass as f64 * period).collect()
}
