//! Sampled or events: told apart by the data.

use crate::capture::error::Fault;
use crate::capture::{CaptureKind, Channel, Clock, Samples};
use crate::remedy::{Remedy, Setting};

/// Rows of an event list that change something. The first row (initial levels) and the last
/// (end of capture) may not; the rest is room for an exporter's occasional repeat.
pub(super) const EVENTS_CHANGE: f64 = 0.9;
/// A record sampled at its ticks changes a level in fewer of its rows than this: it takes
/// at least two samples per level to record a square wave at all.
const SAMPLED_CHANGE: f64 = 0.5;

/// Decides what the rows mean.
pub(super) fn decide(clock: &Clock, channels: &[Channel]) -> Result<CaptureKind, Fault> {
    if !channels.iter().all(|channel| has_two_levels(channel.values.all())) {
        return Ok(CaptureKind::Sampled);
    }
    let rows = channels.first().map_or(0, |channel| channel.values.len());
    let changed = |row: &usize| {
        channels.iter().any(|channel| channel.values[*row] != channel.values[row - 1])
    };
    // Neither the first row nor the last has to change anything.
    let inner = 1..rows.saturating_sub(1).max(1);
    let share = if inner.is_empty() {
        1.0
    } else {
        inner.clone().filter(changed).count() as f64 / inner.len() as f64
    };
    if share >= EVENTS_CHANGE {
        Ok(CaptureKind::Events)
    } else if matches!(clock, Clock::Uniform { .. }) || share < SAMPLED_CHANGE {
        Ok(CaptureKind::Sampled)
    } else {
        Err(Fault::ambiguous(
            format!(
                "the rows may be samples or changes: {:.0} % of them change something, at uneven \
                 times",
                share * 100.0
            ),
            Remedy::give(Setting::RowKind),
        ))
    }
}

/// At most two different values.
fn has_two_levels(values: Samples<'_>) -> bool {
    let Some(first) = values.get(0) else { return true };
    let Some(&second) = values.iter().find(|&&value| value != first) else { return true };
    values.iter().all(|&value| value == first || value == second)
}
