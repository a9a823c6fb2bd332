//! The trade's shorthand, for the wheels it describes without doubt.

use super::{Form, Wheel};

/// Most slots a notation may ask for, as a wheel file: finer wheels are encoders.
pub(super) const MOST_SLOTS: u32 = 720;

/// The slots of a notation that asks for more than there may be.
pub(super) fn too_many(text: &str) -> Option<u64> {
    let mut parts = text.trim().split('-').map(|part| part.trim().parse::<u64>());
    let slots = parts.next()?.ok()?;
    let gaps = parts.all(|part| part.is_ok());
    (gaps && slots > u64::from(MOST_SLOTS)).then_some(slots)
}

/// Reads `N-M` (N slots, the last M adjacent ones missing) or `N` (N even teeth).
///
/// Returns `None` for anything else: more than one dash says how many gaps there
/// are but not where, so it must be a file.
pub(super) fn parse(text: &str) -> Option<Wheel> {
    let mut parts = text.trim().split('-').map(|part| part.trim().parse::<u32>());
    let slots = parts.next()?.ok()?;
    let gap = parts.next().transpose().ok()?.unwrap_or(0);
    if parts.next().is_some() || slots == 0 || slots > MOST_SLOTS || gap >= slots {
        return None;
    }
    Some(Wheel {
        name: text.trim().to_owned(),
        form: Form::Slots { slots, missing: (slots - gap + 1..=slots).collect(), width: None },
        notes: None,
        source: None,
    })
}
