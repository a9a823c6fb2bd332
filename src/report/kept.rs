//! What is kept of a check as a job.

use super::{cranking, words};
use crate::analysis::{Analysis, Checked, CrankingTest};
use crate::shelf::{CamRecord, NewJob};

/// A job with what was found.
#[must_use]
pub fn described(checked: &Checked, begun: NewJob) -> NewJob {
    match checked {
        Checked::Timing(analysis) => of_timing(analysis, begun),
        Checked::Compression(test) => of_compression(test, begun),
    }
}

fn of_timing(analysis: &Analysis, begun: NewJob) -> NewJob {
    let name = |cam: usize| analysis.engine.cams[cam].name.clone();
    let cams = analysis.cams.iter().map(|one| CamRecord {
        cam: name(one.measured.cam),
        deviation_deg: one.deviation().map(|off| off.0),
    });
    NewJob {
        engine: analysis.engine.name.clone(),
        finding: analysis.verdict.state.word().to_owned(),
        probability: analysis.verdict.probability,
        sentence: words::finding(&analysis.engine, &analysis.verdict),
        cams: cams.collect(),
        ..begun
    }
}

fn of_compression(test: &CrankingTest, begun: NewJob) -> NewJob {
    NewJob {
        engine: test.engine.name.clone(),
        finding: test.finding.state.word().to_owned(),
        probability: test.finding.probability,
        sentence: cranking::finding_alone(test, usize::MAX).trim().to_owned(),
        ..begun
    }
}
