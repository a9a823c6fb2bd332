//! The short form: a few fields become an engine file.

use serde::Deserialize;
use toml::{Table, Value};

use super::wheel;

/// The form as it is sent. Numbers are text as typed, empty where nothing was.
#[derive(Debug, Deserialize)]
pub(super) struct EngineForm {
    name: String,
    firing_order: String,
    bank1: String,
    bank2: String,
    crank_wheel: String,
    crank_sensor: String,
    crank_edge: String,
    tdc: String,
    tolerance: String,
    cams: Vec<CamForm>,
    chain_kind: String,
    crank_teeth: String,
    cam_teeth: String,
}

#[derive(Debug, Deserialize)]
struct CamForm {
    name: String,
    bank: String,
    shaft: String,
    wheel: String,
    sensor: String,
    at: String,
    rest: String,
    travel: String,
}

/// A field of the form that cannot be used: which, and why.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct FieldError {
    pub field: String,
    pub message: String,
}

type Filled<T> = Result<T, FieldError>;

fn wrong<T>(field: &str, message: impl Into<String>) -> Filled<T> {
    Err(FieldError { field: field.to_owned(), message: message.into() })
}

impl EngineForm {
    /// The text of the engine file.
    pub fn to_toml(&self) -> Filled<String> {
        let mut engine = Table::new();
        let name = self.name.trim();
        if name.is_empty() {
            return wrong("name", "Give the engine a name.");
        }
        engine.insert("name".into(), name.into());
        engine.insert("firing_order".into(), cylinders("firing_order", &self.firing_order)?);
        if let Some(tolerance) = number("tolerance", &self.tolerance)? {
            engine.insert("tolerance".into(), tolerance.into());
        }
        if !self.bank2.trim().is_empty() {
            let banks = Table::from_iter([
                ("1".into(), cylinders("bank1", &self.bank1)?),
                ("2".into(), cylinders("bank2", &self.bank2)?),
            ]);
            engine.insert("banks".into(), banks.into());
        }
        engine.insert("crank".into(), self.crank()?.into());
        let cams = self.cams.iter().enumerate().map(|(index, cam)| cam.to_value(index));
        let cams = cams.collect::<Filled<Vec<Value>>>()?;
        if let Some(chain) = self.chain()? {
            engine.insert("chain".into(), vec![Value::Table(chain)].into());
        }
        engine.insert("cam".into(), cams.into());
        toml::to_string(&engine)
            .or_else(|error| wrong("name", format!("The file cannot be written: {error}.")))
    }

    fn crank(&self) -> Filled<Table> {
        let mut crank = Table::new();
        crank.insert("wheel".into(), wheel_of("crank_wheel", &self.crank_wheel)?);
        crank.insert("sensor".into(), self.crank_sensor.as_str().into());
        if !self.crank_edge.is_empty() {
            crank.insert("edge".into(), self.crank_edge.as_str().into());
        }
        if let Some(tdc) = number("tdc", &self.tdc)? {
            crank.insert("tdc".into(), tdc.into());
        }
        Ok(crank)
    }

    /// One chain from the crank to every cam, where sprockets are given.
    fn chain(&self) -> Filled<Option<Table>> {
        let (crank, cam) =
            (teeth("crank_teeth", &self.crank_teeth)?, teeth("cam_teeth", &self.cam_teeth)?);
        let (crank, cam) = match (crank, cam) {
            (None, None) => return Ok(None),
            (Some(crank), Some(cam)) => (crank, cam),
            (None, Some(_)) => {
                return wrong("crank_teeth", "Count the teeth of both sprockets, or of none.");
            }
            (Some(_), None) => {
                return wrong("cam_teeth", "Count the teeth of both sprockets, or of none.");
            }
        };
        let sprocket = |on: &str, teeth: i64| {
            Table::from_iter([("on".into(), Value::from(on)), ("teeth".into(), Value::from(teeth))])
        };
        let driven: Vec<Value> =
            self.cams.iter().map(|of| sprocket(of.name.trim(), cam).into()).collect();
        Ok(Some(Table::from_iter([
            ("name".into(), "primary".into()),
            ("kind".into(), self.chain_kind.as_str().into()),
            ("driver".into(), sprocket("crank", crank).into()),
            ("driven".into(), driven.into()),
        ])))
    }
}

impl CamForm {
    fn to_value(&self, index: usize) -> Filled<Value> {
        let field = |name: &str| format!("cam{index}_{name}");
        let mut cam = Table::new();
        cam.insert("name".into(), self.name.trim().into());
        let Ok(bank) = self.bank.trim().parse::<i64>() else {
            return wrong(&field("bank"), "Give the bank's number, 1 or 2.");
        };
        cam.insert("bank".into(), bank.into());
        cam.insert("shaft".into(), self.shaft.as_str().into());
        cam.insert("wheel".into(), wheel_of(&field("wheel"), &self.wheel)?);
        cam.insert("sensor".into(), self.sensor.as_str().into());
        if let Some(at) = number(&field("at"), &self.at)? {
            cam.insert("at".into(), at.into());
        }
        if let Some(travel) = number(&field("travel"), &self.travel)? {
            let phaser = Table::from_iter([
                ("rest".into(), self.rest.as_str().into()),
                ("travel".into(), travel.into()),
            ]);
            cam.insert("phaser".into(), phaser.into());
        }
        Ok(cam.into())
    }
}

fn wheel_of(field: &str, spec: &str) -> Filled<Value> {
    if spec.trim().is_empty() {
        return wrong(field, "Choose a wheel.");
    }
    wheel::value(spec).or_else(|message| wrong(field, message + "."))
}

fn cylinders(field: &str, text: &str) -> Filled<Value> {
    let words = text.split([' ', ',', '-', ';']).filter(|word| !word.is_empty());
    let numbers = words.map(|word| word.parse::<i64>().map(Value::from));
    match numbers.collect::<Result<Vec<Value>, _>>() {
        Ok(list) if !list.is_empty() => Ok(list.into()),
        _ => wrong(field, "List cylinder numbers, for example 1-3-4-2."),
    }
}

fn number(field: &str, text: &str) -> Filled<Option<f64>> {
    let text = text.trim().replace(',', ".");
    if text.is_empty() {
        return Ok(None);
    }
    match text.parse::<f64>() {
        Ok(value) if value.is_finite() => Ok(Some(value)),
        _ => wrong(field, "Give a number of degrees, or leave this empty."),
    }
}

fn teeth(field: &str, text: &str) -> Filled<Option<i64>> {
    if text.trim().is_empty() {
        return Ok(None);
    }
    match text.trim().parse() {
        Ok(teeth) => Ok(Some(teeth)),
        Err(_) => wrong(field, "Count the teeth: a whole number, or leave this empty."),
    }
}
