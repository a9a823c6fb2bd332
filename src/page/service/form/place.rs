//! From a key of the engine file back to the field that wrote it, so that a refusal stands where
//! its cause is.

/// The field of a key such as `cam "B1 intake".at`; empty when no field alone wrote it. `cams` and
/// `chains` are the names in the form, in order.
pub(super) fn field_of(key: &str, cams: &[&str], chains: &[&str]) -> String {
    let named = |table: &str, names: &[&str]| -> Option<(usize, String)> {
        let rest = key.strip_prefix(table)?.strip_prefix(" \"")?;
        // A name may hold quotes and dots itself: the longest that fits is meant.
        let fits = names.iter().enumerate().filter_map(|(index, name)| {
            let end = rest.strip_prefix(name)?.strip_prefix('"')?;
            Some((index, name.len(), end.trim_start_matches('.').to_owned()))
        });
        fits.max_by_key(|fit| fit.1).map(|(index, _, end)| (index, end))
    };
    if let Some((index, end)) = named("cam", cams) {
        let field = match end.as_str() {
            "same_as.later" => "later",
            "phaser.travel" | "phaser" => "travel",
            "" => "name",
            other => other.split('.').next().unwrap_or("name"),
        };
        return format!("cam{index}_{field}");
    }
    if let Some((index, end)) = named("chain", chains) {
        let field = match end.as_str() {
            "driver" => "driver_on",
            "driven" => "driven0_on",
            "teeth" => "driven0_teeth",
            _ => "name",
        };
        return format!("chain{index}_{field}");
    }
    match key.split('.').collect::<Vec<&str>>().as_slice() {
        ["crank", "wheel", ..] => "crank_wheel",
        ["crank", "edge", ..] => "crank_edge",
        ["crank", "sensor", ..] => "crank_sensor",
        ["crank", "tdc", ..] => "tdc",
        ["firing_order" | "firing_angles", ..] => "firing_order",
        ["banks", ..] => "bank1",
        ["tolerance", ..] => "tolerance",
        ["name", ..] => "name",
        _ => "",
    }
    .to_owned()
}

#[cfg(test)]
mod tests {
    use super::field_of;

    #[test]
    fn keys_lead_back_to_their_fields() {
        let (cams, chains) = (["B1", "B1\".at", "B2.x"], ["primary", "second"]);
        let rows = [
            ("cam \"B1\".at", "cam0_at"),
            ("cam \"B1\".at\".wheel", "cam1_wheel"),
            ("cam \"B2.x\".same_as.later", "cam2_later"),
            ("cam \"B2.x\".same_as", "cam2_same_as"),
            ("chain \"second\".driver", "chain1_driver_on"),
            ("chain \"primary\".driven", "chain0_driven0_on"),
            ("crank.wheel.teeth", "crank_wheel"),
            ("banks.2", "bank1"),
            ("valves", ""),
            ("", ""),
        ];
        for (key, want) in rows {
            assert_eq!(field_of(key, &cams, &chains), want, "{key}");
        }
    }
}
