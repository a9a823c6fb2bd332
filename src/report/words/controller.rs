//! What was typed in from a scan tool, and after what.

use crate::engine::Engine;
use crate::verdict::Verdict;

/// What the controller showed of each cam and how that counts, and that the engine was just put
/// together.
#[must_use]
pub fn controller(engine: &Engine, verdict: &Verdict) -> Vec<String> {
    let mut said = Vec::new();
    for one in &verdict.controller {
        let cam = &engine.cams[one.cam].name;
        if let Some(phaser) = one.phaser {
            let stands = if phaser.word().is_empty() {
                "at rest".into()
            } else {
                format!("{phaser} of rest")
            };
            said.push(format!(
                "Phaser of {cam}, by the controller: {stands}. Weighed: what is shown away is likelier to be away."
            ));
        }
        if let Some(learned) = one.learned {
            let stands =
                if learned.word().is_empty() { "nothing".into() } else { learned.to_string() };
            said.push(format!(
                "Offset of {cam} learned by the controller: {stands}. Weighed: wear creeps into it, a skip since then does not."
            ));
        }
    }
    if verdict.after_repair {
        said.push(
            "After a repair: a chain laid on a tooth off, a phaser fitted unlocked and a wrong part are held likelier, wear less \
             likely."
                .into(),
        );
    }
    said
}
