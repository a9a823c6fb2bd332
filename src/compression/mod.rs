//! Compression by cylinder and bank, without taking a plug out.
//!
//! A cam that is really late changes its own bank's compression; a sensor wheel that moved does
//! not. [`measure()`] finds relative compression from the starter's current, the battery's voltage
//! or crank speed alone, and what the cams should have made of it; the verdict holds one against
//! the other.
//!
//! The walk: marks become a speed curve (`curve.rs`); `steady.rs` keeps steady cranking; a
//! lead is brought onto crank angle (`lead.rs`); `model.rs` fits each cylinder's share of the
//! energy balance; `cylinders.rs` names them; `summary.rs` gives intervals and banks;
//! `expected.rs` says what the cams should have made of it. `tdc.rs` and `pressure.rs`
//! stand beside.
//!
//! What relative compression cannot show: all cylinders down alike.

mod alike;
mod contrasts;
mod curve;
mod cycles;
mod cylinders;
mod energy;
mod equations;
mod expected;
mod filter;
mod geometry;
mod input;
mod lead;
mod locate;
mod low;
mod measure;
mod model;
mod orders;
mod peaks;
mod pressure;
mod solve;
mod speed;
mod stats;
mod steady;
mod summary;
mod tdc;
mod waveforms;
mod withheld;

pub use cylinders::NamedBy;
pub use expected::{CamShift, ExpectedChange, lower_by};
pub use filter::LowPass;
pub use geometry::CylinderShape;
pub use input::{CompressionInput, SampledLead, Source, Trigger, TriggerLead};
pub use measure::{CompressionOutcome, expected_change, measure};
pub use orders::{Order, low_pass, orders};
pub use peaks::{Peak, peaks};
pub use pressure::{
    EVENT_SD, LOSS_ANGLE, PressureResult, ValveEvent, ValveEventKind, pressure_peaks,
};
pub use steady::Steady;
pub use summary::{BankResult, Compression, CompressionDifference, CylinderResult};
pub use tdc::TdcCheck;
pub use withheld::Withheld;
