//! How often this shop found a finding right that was stated as sure.

use super::job::Job;
use super::outcome::FindingWas;

/// A finding is stated as sure from this probability on, as the verdict states it.
pub const STATED_SURE: f64 = 0.99;

/// Findings of one kind that were stated as sure, and what became of them.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Tally {
    /// Word of the finding, as in the result.
    pub finding: String,
    /// Stated as sure.
    pub stated: usize,
    /// The engine was looked at, and it was so.
    pub right: usize,
    /// The engine was looked at, and it was not so.
    pub wrong: usize,
}

/// The shop's own record.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Record {
    /// By kind of finding, by name.
    pub tallies: Vec<Tally>,
}

impl Record {
    /// All kinds together.
    #[must_use]
    pub fn total(&self) -> Tally {
        let sum = |of: fn(&Tally) -> usize| self.tallies.iter().map(of).sum();
        Tally {
            finding: "all".into(),
            stated: sum(|one| one.stated),
            right: sum(|one| one.right),
            wrong: sum(|one| one.wrong),
        }
    }
}

/// Counts the findings that were stated as sure.
#[must_use]
pub fn record(jobs: &[Job]) -> Record {
    let mut tallies: Vec<Tally> = Vec::new();
    for job in jobs.iter().filter(|job| job.kept.probability >= STATED_SURE) {
        let finding = &job.kept.finding;
        let at = tallies.iter().position(|one| one.finding == *finding).unwrap_or_else(|| {
            tallies.push(Tally { finding: finding.clone(), stated: 0, right: 0, wrong: 0 });
            tallies.len() - 1
        });
        tallies[at].stated += 1;
        match job.finding_was() {
            Some(FindingWas::Right) => tallies[at].right += 1,
            Some(FindingWas::Wrong) => tallies[at].wrong += 1,
            None => {}
        }
    }
    tallies.sort_by(|a, b| a.finding.cmp(&b.finding));
    Record { tallies }
}
