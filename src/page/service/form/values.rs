//! From an engine file back to the fields of the form that write it.

use serde::Serialize;
use serde_json::{Map, Value as Json, json};
use toml::{Table, Value};

use crate::page::service::wheel::typed_value;

/// The fields of the form, by name, as they would be typed.
#[derive(Debug, Clone, Serialize)]
pub(in crate::page::service) struct FormValues(Map<String, Json>);

/// What the form has of an engine, a cam and a chain.
const ENGINE: [&str; 7] = ["name", "firing_order", "tolerance", "banks", "crank", "cam", "chain"];
const CRANK: [&str; 4] = ["wheel", "sensor", "edge", "tdc"];
const CAM: [&str; 8] = ["name", "bank", "shaft", "wheel", "sensor", "at", "same_as", "phaser"];
const CHAIN: [&str; 4] = ["name", "kind", "driver", "driven"];

/// The fields that write an engine file; `None` where it holds something the form has no field for,
/// which would be lost.
pub(in crate::page::service) fn values(text: &str) -> Option<FormValues> {
    let table = text.parse::<Table>().ok()?;
    let only = |table: &Table, keys: &[&str]| table.keys().all(|key| keys.contains(&key.as_str()));
    if !only(&table, &ENGINE) {
        return None;
    }
    let mut form = Map::new();
    form.insert("name".into(), typed(table.get("name"))?);
    form.insert("firing_order".into(), list(table.get("firing_order"))?);
    form.insert("tolerance".into(), typed(table.get("tolerance"))?);
    let banks = table.get("banks").map_or(Some(Table::new()), |banks| banks.as_table().cloned())?;
    if !only(&banks, &["1", "2"]) {
        return None;
    }
    for (field, bank) in [("bank1", "1"), ("bank2", "2")] {
        form.insert(field.into(), list(banks.get(bank))?);
    }
    let crank = table.get("crank")?.as_table()?;
    if !only(crank, &CRANK) {
        return None;
    }
    form.insert("crank_wheel".into(), typed_value(crank.get("wheel")?)?.into());
    for key in ["sensor", "edge", "tdc"] {
        form.insert(format!("crank_{key}").replace("crank_tdc", "tdc"), typed(crank.get(key))?);
    }
    let all = |key: &str| table.get(key).and_then(Value::as_array).cloned().unwrap_or_default();
    let tables = all("cam");
    let cams = tables.iter().map(|cam| {
        let cam = cam.as_table().filter(|cam| only(cam, &CAM))?;
        let empty = Table::new();
        let part = |key: &str, keys: &[&str]| match cam.get(key) {
            None => Some(empty.clone()),
            Some(part) => part.as_table().filter(|part| only(part, keys)).cloned(),
        };
        let same_as = part("same_as", &["cam", "later"])?;
        let phaser = part("phaser", &["rest", "travel"])?;
        let wheel = cam.get("wheel").map_or(Some(String::new()), typed_value)?;
        Some(json!({
            "name": typed(cam.get("name"))?, "bank": typed(cam.get("bank"))?,
            "shaft": typed(cam.get("shaft"))?, "wheel": wheel, "sensor": typed(cam.get("sensor"))?,
            "at": typed(cam.get("at"))?, "same_as": typed(same_as.get("cam"))?,
            "later": typed(same_as.get("later"))?, "rest": typed(phaser.get("rest"))?,
            "travel": typed(phaser.get("travel"))?,
        }))
    });
    form.insert("cams".into(), cams.collect::<Option<Vec<Json>>>()?.into());
    let sprocket = |value: &Value| {
        let sprocket = value.as_table().filter(|table| only(table, &["on", "teeth"]))?;
        Some(json!({ "on": typed(sprocket.get("on"))?, "teeth": typed(sprocket.get("teeth"))? }))
    };
    let tables = all("chain");
    let chains = tables.iter().map(|chain| {
        let chain = chain.as_table().filter(|chain| only(chain, &CHAIN))?;
        let driven = chain.get("driven")?.as_array()?.iter().map(sprocket);
        Some(json!({
            "name": typed(chain.get("name"))?, "kind": typed(chain.get("kind"))?,
            "driver": sprocket(chain.get("driver")?)?,
            "driven": driven.collect::<Option<Vec<Json>>>()?,
        }))
    });
    form.insert("chains".into(), chains.collect::<Option<Vec<Json>>>()?.into());
    Some(FormValues(form))
}

/// A text or a number as it would be typed; nothing where there is nothing.
fn typed(value: Option<&Value>) -> Option<Json> {
    Some(match value {
        None => "".into(),
        Some(Value::String(text)) => text.as_str().into(),
        Some(Value::Integer(number)) => number.to_string().into(),
        Some(Value::Float(number)) => number.to_string().into(),
        Some(_) => return None,
    })
}

/// Numbers of cylinders.
fn list(value: Option<&Value>) -> Option<Json> {
    let Some(value) = value else { return Some("".into()) };
    let numbers = value.as_array()?.iter().map(|one| Some(one.as_integer()?.to_string()));
    Some(numbers.collect::<Option<Vec<String>>>()?.join("-").into())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::engine::Engine;
    use crate::page::service::form::EngineForm;

    /// What the form writes is what was in the file: the demonstration's engine, and one with
    /// everything the form has.
    #[test]
    fn an_engine_file_comes_back_through_the_form() {
        let whole = "name = \"Whole\"\nfiring_order = [1, 3, 4, 2]\ntolerance = 4.0\n[crank]\nwheel = \"36-2\"\nsensor = \"hall\"\nedge = \"falling\"\ntdc = 84.0\n\
            [[cam]]\nname = \"intake\"\nbank = 1\nshaft = \"intake\"\nwheel = \"three-uneven\"\nsensor = \"hall\"\nat = 12.5\nphaser = { rest = \"retarded\", travel = 50.0 }\n\
            [[cam]]\nname = \"exhaust\"\nbank = 1\nshaft = \"exhaust\"\nsame_as = { cam = \"intake\", later = 90.0 }\n\
            [[chain]]\nname = \"primary\"\nkind = \"chain\"\ndriver = { on = \"crank\", teeth = 21 }\ndriven = [{ on = \"intake\", teeth = 42 }, { on = \"exhaust\", teeth = 42 }]\n";
        let form = values(whole).expect("the form has it all");
        let form: EngineForm =
            serde_json::from_value(serde_json::to_value(&form).expect("JSON")).expect("a form");
        let again = form.to_toml().expect("whole");
        let read = |text: &str| Engine::parse(text, "e.toml".as_ref()).expect("an engine");
        let (one, two) = (read(whole), read(&again));
        assert_eq!(one.firing_order, two.firing_order);
        assert_eq!(one.cams.len(), two.cams.len());
        for (a, b) in one.cams.iter().zip(&two.cams) {
            assert_eq!((&a.name, a.bank, a.reference), (&b.name, b.bank, b.reference));
            assert_eq!((a.wheel.form(), a.phaser), (b.wheel.form(), b.phaser), "{again}");
        }
        assert_eq!(one.drive.chains, two.drive.chains);
        // What the form has no field for is not lost: such a file is edited as text.
        assert!(values(&format!("valves = 4\n{whole}")).is_none());
        assert!(values("not toml [").is_none());
    }
}
