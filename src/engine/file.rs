//! The keys of an engine file, exactly as written.

use std::collections::BTreeMap;

use serde::Deserialize;
use toml::Spanned;

use super::{CamShaft, ChainKind, Level, PhaserRest, Sensor};
use crate::input::Tables;
use crate::wheel::{EdgeKind, WheelSource};

/// The tables and their keys, for messages; a test holds them against the structs below.
pub(super) const TABLES: Tables = &[
    (
        "",
        &[
            "name",
            "firing_order",
            "firing_order_assumed",
            "firing_angles",
            "tolerance",
            "interference",
        ],
    ),
    ("[banks]", &[]),
    ("[bank_places]", &[]),
    ("[crank]", &["wheel", "sensor", "edge", "over_tooth", "tdc"]),
    (
        "[[cam]]",
        &[
            "name",
            "bank",
            "where",
            "shaft",
            "wheel",
            "sensor",
            "edge",
            "at",
            "at_sd",
            "source",
            "same_as",
            "tolerance",
            "phaser",
        ],
    ),
    ("[[chain]]", &["name", "kind", "driver", "driven", "order"]),
    ("[valves]", &["intake_opens", "intake_closes", "exhaust_opens", "exhaust_closes"]),
    ("[geometry]", &["compression_ratio", "rod_ratio", "displacement_litres"]),
];

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct EngineFile {
    pub name: String,
    pub firing_order: Spanned<Vec<u32>>,
    #[serde(default)]
    pub firing_order_assumed: bool,
    pub firing_angles: Option<Spanned<Vec<f64>>>,
    pub tolerance: Option<Spanned<f64>>,
    pub interference: Option<bool>,
    #[serde(default)]
    pub banks: Option<Spanned<BTreeMap<String, Vec<u32>>>>,
    #[serde(default)]
    pub bank_places: Option<Spanned<BTreeMap<String, String>>>,
    pub crank: Option<Spanned<CrankFile>>,
    #[serde(default, rename = "cam")]
    pub cams: Vec<Spanned<CamFile>>,
    #[serde(default, rename = "chain")]
    pub chains: Vec<Spanned<ChainFile>>,
    pub valves: Option<Spanned<ValvesFile>>,
    pub geometry: Option<Spanned<GeometryFile>>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct CrankFile {
    pub wheel: WheelSource,
    pub sensor: Sensor,
    pub edge: Option<EdgeKind>,
    pub over_tooth: Option<Level>,
    pub tdc: Option<f64>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct CamFile {
    pub name: String,
    pub bank: BankFile,
    #[serde(rename = "where")]
    pub place: Option<String>,
    pub shaft: CamShaft,
    pub wheel: Option<WheelSource>,
    pub sensor: Option<Sensor>,
    pub edge: Option<EdgeKind>,
    pub at: Option<f64>,
    pub at_sd: Option<f64>,
    pub source: Option<String>,
    pub same_as: Option<SameAsFile>,
    pub tolerance: Option<f64>,
    pub phaser: Option<PhaserPart>,
}

/// `bank = 1`, or `bank = [1, 2]` for a cam that serves both.
#[derive(Debug)]
pub(super) struct BankFile(pub Vec<u32>);

impl<'de> Deserialize<'de> for BankFile {
    fn deserialize<D: serde::Deserializer<'de>>(input: D) -> Result<Self, D::Error> {
        let bank = |value: &toml::Value| value.as_integer().and_then(|bank| bank.try_into().ok());
        let value = toml::Value::deserialize(input)?;
        let banks = match &value {
            toml::Value::Array(list) => list.iter().map(bank).collect::<Option<Vec<u32>>>(),
            one => bank(one).map(|bank| vec![bank]),
        };
        banks.filter(|banks| !banks.is_empty()).map(BankFile).ok_or_else(|| {
            serde::de::Error::custom(
                "`bank` is the number of a bank, or for a cam that serves two a list such as [1, 2]",
            )
        })
    }
}

/// `phaser = { … }`, or `phaser = "none"` for a cam that certainly has none.
#[derive(Debug)]
pub(super) enum PhaserPart {
    Described(PhaserFile),
    None,
}

impl<'de> Deserialize<'de> for PhaserPart {
    fn deserialize<D: serde::Deserializer<'de>>(input: D) -> Result<Self, D::Error> {
        match toml::Value::deserialize(input)? {
            toml::Value::String(word) if word == "none" => Ok(PhaserPart::None),
            toml::Value::Table(table) => PhaserFile::deserialize(toml::Value::Table(table))
                .map(PhaserPart::Described)
                .map_err(|error| serde::de::Error::custom(error.message())),
            _ => Err(serde::de::Error::custom(
                "a phaser is \"none\", or a table such as { rest = \"retarded\", travel = 50.0 }",
            )),
        }
    }
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct SameAsFile {
    pub cam: String,
    pub later: f64,
    #[serde(default)]
    pub assumed: bool,
    pub source: Option<String>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct PhaserFile {
    pub rest: PhaserRest,
    pub travel: f64,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct ChainFile {
    pub name: String,
    pub kind: ChainKind,
    pub driver: SprocketFile,
    pub driven: Vec<SprocketFile>,
    pub order: Option<OrderFile>,
}

/// What the order of `driven` means.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub(super) enum OrderFile {
    /// From the driver on, the pulled strand first.
    Pulled,
}

#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct SprocketFile {
    pub on: String,
    pub teeth: u32,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct ValvesFile {
    pub intake_opens: Option<f64>,
    pub intake_closes: Option<f64>,
    pub exhaust_opens: Option<f64>,
    pub exhaust_closes: Option<f64>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct GeometryFile {
    pub compression_ratio: Option<f64>,
    pub rod_ratio: Option<f64>,
    pub displacement_litres: Option<f64>,
}
