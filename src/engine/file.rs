//! The keys of an engine file, exactly as written (README, "Engine files").

use std::collections::BTreeMap;

use serde::Deserialize;
use toml::Spanned;

use super::{CamShaft, ChainKind, PhaserRest, Sensor};
use crate::wheel::{EdgeKind, WheelSource};

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct EngineFile {
    pub name: String,
    pub firing_order: Spanned<Vec<u32>>,
    pub firing_angles: Option<Spanned<Vec<f64>>>,
    pub tolerance: Option<Spanned<f64>>,
    #[serde(default)]
    pub banks: Option<Spanned<BTreeMap<String, Vec<u32>>>>,
    pub crank: Spanned<CrankFile>,
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
    pub tdc: Option<f64>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct CamFile {
    pub name: String,
    pub bank: u32,
    pub shaft: CamShaft,
    pub wheel: Option<WheelSource>,
    pub sensor: Option<Sensor>,
    pub edge: Option<EdgeKind>,
    pub at: Option<f64>,
    pub at_sd: Option<f64>,
    pub same_as: Option<SameAsFile>,
    pub tolerance: Option<f64>,
    pub phaser: Option<PhaserFile>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct SameAsFile {
    pub cam: String,
    pub later: f64,
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
