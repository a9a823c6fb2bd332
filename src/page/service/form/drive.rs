//! The chains of the form: each from one sprocket to others, together a tree from the crank to
//! every camshaft.

use serde::Deserialize;
use toml::{Table, Value};

use super::fields::{Filled, teeth, wrong};
use super::key;

#[derive(Debug, Deserialize)]
pub(super) struct ChainForm {
    name: String,
    kind: String,
    driver: SprocketForm,
    driven: Vec<SprocketForm>,
}

#[derive(Debug, Deserialize)]
struct SprocketForm {
    on: String,
    teeth: String,
}

impl ChainForm {
    pub fn name(&self) -> &str {
        self.name.trim()
    }

    pub fn write(&self, out: &mut String, index: usize) -> Filled<()> {
        let field = |name: &str| format!("chain{index}_{name}");
        if self.name().is_empty() {
            return wrong(&field("name"), "Name this chain, for example primary.");
        }
        out.push_str("\n[[chain]]\n");
        key(out, "name", self.name());
        key(out, "kind", self.kind.as_str());
        key(out, "driver", self.driver.value(&field("driver"))?);
        if self.driven.is_empty() {
            return wrong(&field("name"), "Add what this chain drives, or remove it.");
        }
        let driven = self.driven.iter().enumerate();
        let driven = driven.map(|(at, sprocket)| sprocket.value(&field(&format!("driven{at}"))));
        key(out, "driven", driven.collect::<Filled<Vec<Value>>>()?);
        Ok(())
    }
}

impl SprocketForm {
    fn value(&self, field: &str) -> Filled<Value> {
        let on = self.on.trim();
        if on.is_empty() {
            let message = "Name the shaft: crank, a camshaft, or an idler by a name of your own.";
            return wrong(&format!("{field}_on"), message);
        }
        let teeth = teeth(&format!("{field}_teeth"), &self.teeth)?;
        Ok(Table::from_iter([("on".into(), Value::from(on)), ("teeth".into(), teeth.into())])
            .into())
    }
}
