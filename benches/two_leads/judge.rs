//! What was found of a case, held against what is true.

use std::fmt;

use camwitness::Options;
use camwitness::analysis::{Checked, CrankingTest, analyse, check};
use camwitness::compression::Compression;
use camwitness::practice::{Scenario, generate};
use camwitness::verdict::{CompressionFinding, CompressionState};

use crate::case::{Case, Kind, parse};

/// A single cylinder this far down is to be named, and a bank this far down.
const CYLINDER_COUNTS: f64 = 0.15;
const BANK_COUNTS: f64 = 0.06;

/// A case with what came of it.
pub struct Judged {
    pub case: Case,
    /// How far the low ones truly are below the others.
    pub below: f64,
    pub finding: Result<CompressionFinding, String>,
    /// Whether the lowest ones by measurement are the truly low ones.
    pub names_right: Option<bool>,
    /// Whether the same with the crank gives the same within both intervals.
    pub like_crank: Option<bool>,
    pub is_named: Option<bool>,
    pub measured: String,
}

pub fn judge(case: Case, with_crank: bool) -> Judged {
    let truth = &case.practice.truth.cylinders;
    let mean = |low: bool| {
        let of = truth.iter().filter(|one| case.low.contains(&one.cylinder) == low);
        let values: Vec<f64> = of.map(|one| one.relative).collect();
        values.iter().sum::<f64>() / values.len().max(1) as f64
    };
    let below = if case.low.is_empty() { 0.0 } else { 1.0 - mean(true) / mean(false) };
    let found = tested(&case);
    let measured = found.as_ref().ok().and_then(|test| test.main().compression.measured.clone());
    let counts = case.kind != Kind::OneLow || below >= CYLINDER_COUNTS;
    Judged {
        below,
        names_right: measured.as_ref().filter(|_| counts).and_then(|one| names_right(&case, one)),
        like_crank: measured.as_ref().filter(|_| with_crank).and_then(|one| like_crank(&case, one)),
        is_named: measured.as_ref().map(Compression::is_named),
        measured: measured.as_ref().map_or_else(String::new, told),
        finding: found.map(|test| test.finding),
        case,
    }
}

fn tested(case: &Case) -> Result<CrankingTest, String> {
    let engine = parse(&case.engine.text());
    match check(std::slice::from_ref(&case.practice.capture), &engine, &Options::default()) {
        Ok(Checked::Compression(test)) => Ok(*test),
        Ok(Checked::Timing(_)) => Err("timing".into()),
        Err(error) => Err(error.to_string()),
    }
}

/// Whether every cylinder has a name and the lowest by measurement are the low ones.
fn names_right(case: &Case, measured: &Compression) -> Option<bool> {
    if case.low.is_empty() {
        return None;
    }
    let mut order: Vec<(f64, Option<u32>)> =
        measured.cylinders.iter().map(|one| (one.relative, one.cylinder)).collect();
    order.sort_by(|a, b| a.0.total_cmp(&b.0));
    let lowest = &order[..case.low.len()];
    Some(match case.kind {
        // A bank's cylinders differ by less than its shift may be.
        Kind::BankLow => {
            measured.bank_difference.as_ref()?.bank
                == case
                    .engine
                    .banks
                    .iter()
                    .position(|bank| bank == &case.low.as_slice())
                    .map(|at| at as u32 + 1)
        }
        _ => lowest.iter().all(|(_, cylinder)| cylinder.is_some_and(|one| case.low.contains(&one))),
    })
}

/// The same engine and cranking with crank and cams beside.
fn like_crank(case: &Case, measured: &Compression) -> Option<bool> {
    let practice = generate(&Scenario { rate: 20_000.0, ..case.with_crank.clone() }).ok()?;
    let engine = &case.with_crank.engine;
    let analysis =
        analyse(std::slice::from_ref(&practice.capture), engine, &Options::default()).ok()?;
    let other = analysis.compression.measured?;
    let mut alike = true;
    for one in &measured.cylinders {
        let same = other.cylinders.iter().find(|their| their.cylinder == one.cylinder)?;
        let half = |(low, high): (f64, f64)| (high - low) / 2.0;
        let apart = (one.relative - same.relative).abs();
        // Six cylinders or more are compared: three standard deviations, not two.
        alike &= apart < 1.5 * half(one.ci95).hypot(half(same.ci95));
    }
    Some(alike)
}

impl Judged {
    pub fn counts(&self) -> bool {
        match self.case.kind {
            Kind::OneLow => self.below >= CYLINDER_COUNTS,
            Kind::BankLow => self.below >= BANK_COUNTS,
            _ => true,
        }
    }

    /// The truth, where it is to be found.
    pub fn right(&self) -> bool {
        let Ok(finding) = &self.finding else { return false };
        let named = |state| {
            let mut low = finding.cylinders.clone();
            let mut truly = self.case.low.clone();
            low.sort_unstable();
            truly.sort_unstable();
            finding.state == state && low == truly
        };
        match self.case.kind {
            Kind::Sound => finding.state == CompressionState::Even,
            Kind::OneLow => named(CompressionState::CylinderLow),
            Kind::NeighboursLow if self.case.low.len() == self.case.engine.banks[0].len() => {
                named(CompressionState::NeighboursLow) || named(CompressionState::BankLow)
            }
            Kind::NeighboursLow => named(CompressionState::NeighboursLow),
            Kind::BankLow => {
                named(CompressionState::BankLow)
                    || !self.counts() && finding.state == CompressionState::Even
                    // Two cylinders side by side are both.
                    || self.case.low.len() == 2 && named(CompressionState::NeighboursLow)
            }
        }
    }

    pub fn called_a_bank(&self) -> bool {
        self.finding.as_ref().is_ok_and(|one| one.state == CompressionState::BankLow)
    }

    /// Whether the cylinders that were measured carry names; nothing where nothing was measured.
    pub fn named(&self) -> Option<bool> {
        self.is_named
    }

    pub fn withheld(&self) -> bool {
        self.finding.as_ref().is_ok_and(|one| one.state == CompressionState::Withheld)
    }

    pub fn refused(&self) -> bool {
        self.finding.is_err()
    }

    pub fn wrong(&self) -> bool {
        !self.right() && !self.withheld() && !self.refused()
    }
}

fn told(measured: &Compression) -> String {
    let one = |one: &camwitness::compression::CylinderResult| {
        let name = one.cylinder.map_or("?".into(), |cylinder| cylinder.to_string());
        format!("{name}:{:.3}±{:.3}", one.relative, (one.ci95.1 - one.ci95.0) / 2.0)
    };
    measured.cylinders.iter().map(one).collect::<Vec<_>>().join(" ")
}

impl fmt::Display for Judged {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Case { seed, engine, kind, low, nasty, leads, with_crank, .. } = &self.case;
        write!(
            out,
            "seed {seed}, {}, {}, {low:?} below by {:.3}, {leads:?}, nasty {nasty}, {:.0}/s: ",
            engine.name,
            kind.word(),
            self.below,
            with_crank.rate
        )?;
        match &self.finding {
            Ok(found) => write!(
                out,
                "{} {:?} bank {:?} {:.3} {:?} | {} | truth {}",
                found.state.word(),
                found.cylinders,
                found.bank,
                found.probability,
                found.withheld,
                self.measured,
                self.case
                    .practice
                    .truth
                    .cylinders
                    .iter()
                    .map(|one| format!("{}:{:.3}", one.cylinder, one.relative))
                    .collect::<Vec<_>>()
                    .join(" ")
            ),
            Err(error) => write!(out, "refused: {error}"),
        }
    }
}
