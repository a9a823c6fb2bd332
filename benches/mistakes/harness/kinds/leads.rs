//! Leads on the wrong sensor or the wrong column.

use super::hand::{other_bank, other_shaft, pair, plain, reordered};
use super::{ELSEWHERE, Kind, LEADS, NAMES_NOTHING, kind};

/// In the order of the table.
pub fn kinds() -> Vec<Kind> {
    vec![
        kind(
            "leads of both banks' first cams exchanged",
            |b| {
                let first =
                    (0..b.right.cams.len()).find(|&cam| other_bank(b.right, cam).is_some())?;
                pair(b, first, other_bank(b.right, first)?)
            },
            LEADS,
        ),
        kind(
            "leads of intake and exhaust of one bank exchanged",
            |b| pair(b, 0, other_shaft(b.right, 0)?),
            LEADS,
        ),
        kind(
            "leads of the banks exchanged wholesale",
            |b| {
                (b.right.cams.len() > 2)
                    .then(|| reordered(b, |cam| other_bank(b.right, cam)))
                    .flatten()
            },
            LEADS,
        ),
        kind(
            "leads of intake and exhaust exchanged on both banks",
            |b| {
                (b.right.cams.len() > 2)
                    .then(|| reordered(b, |cam| other_shaft(b.right, cam)))
                    .flatten()
            },
            LEADS,
        ),
        kind(
            "leads shifted by one",
            |b| {
                let count = b.right.cams.len();
                (count > 2).then(|| reordered(b, |cam| Some((cam + 1) % count))).flatten()
            },
            LEADS,
        ),
        kind(
            "leads shifted by one the other way",
            |b| {
                let count = b.right.cams.len();
                (count > 2).then(|| reordered(b, |cam| Some((cam + count - 1) % count))).flatten()
            },
            LEADS,
        ),
        kind(
            "one sensor on two channels",
            |b| {
                let mut handed = plain(b);
                let names = [b.right.cams.first()?.name, b.right.cams.get(1)?.name];
                let values = |name: &str| b.capture.channels.iter().find(|one| one.name == name);
                let first = values(names[0])?.values.clone();
                let second =
                    handed.captures[0].channels.iter_mut().find(|one| one.name == names[1])?;
                second.values = first;
                Some(handed)
            },
            NAMES_NOTHING,
        ),
        kind(
            "a cam's lead on the crank sensor",
            |b| {
                let mut handed = plain(b);
                let name = b.right.cams.last()?.name;
                let crank =
                    b.capture.channels.iter().find(|one| one.name == "crank")?.values.clone();
                handed.captures[0].channels.iter_mut().find(|one| one.name == name)?.values = crank;
                Some(handed)
            },
            ELSEWHERE,
        ),
    ]
}
