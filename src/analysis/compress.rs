//! From a capture's leads to relative compression.

use super::MeasuredCapture;
use crate::angle::AngleFrom;
use crate::cam::CamResult;
use crate::capture::{Capture, Channel, Scaled, Unit};
use crate::compression::{
    self, CamShift, CompressionInput, CompressionOutcome, SampledLead, Trigger, TriggerLead,
    expected_change,
};
use crate::crank::CrankAngle;
use crate::edges::find_pulses;
use crate::engine::Engine;
use crate::leads::{Lead, Role, starter_scale};
use crate::notice::Notice;
use crate::stats::NORMAL95;
use crate::units::CrankDelta;

/// A channel as the compression stage takes it.
fn unscaled<'a>(capture: &'a Capture, channel: &'a Channel) -> SampledLead<'a> {
    SampledLead {
        values: channel.values.all(),
        clock: &capture.clock,
        unit: channel.unit,
        over_range: &channel.over_range,
    }
}

/// A capture with its leads named.
pub(super) struct Heard<'a> {
    pub capture: &'a Capture,
    pub engine: &'a Engine,
    pub leads: &'a [Lead],
}

impl<'a> Heard<'a> {
    /// The lead of a role and its channel.
    pub fn channel(&self, role: Role) -> Option<(&'a Lead, &'a Channel)> {
        let lead = self.leads.iter().find(|lead| lead.role == role)?;
        Some((lead, &self.capture.channels[lead.channel]))
    }

    /// Leads on coils and injectors, with their pulses.
    pub fn triggers(&self) -> Vec<TriggerLead> {
        // One cylinder's spark places the others by the firing order alone.
        if self.engine.firing_assumed {
            return Vec::new();
        }
        let lead = |lead: &Lead| {
            let (cylinder, of) = match lead.role {
                Role::Ignition(cylinder) => (cylinder, Trigger::Coil),
                Role::Injector(cylinder) => (cylinder, Trigger::Injector),
                _ => return None,
            };
            let pulses = find_pulses(self.capture, &self.capture.channels[lead.channel]);
            Some(TriggerLead { cylinder, of, waste_spark: false, pulses })
        };
        self.leads.iter().filter_map(lead).collect()
    }

    /// Pressure leads.
    pub fn pressure(&self) -> Vec<(u32, SampledLead<'a>)> {
        let lead = |lead: &Lead| match lead.role {
            Role::Pressure(cylinder) => {
                Some((cylinder, unscaled(self.capture, &self.capture.channels[lead.channel])))
            }
            _ => None,
        };
        self.leads.iter().filter_map(lead).collect()
    }
}

/// Relative compression from whatever leads there are, on an angle and what that is from.
pub(super) fn compress(
    heard: &Heard,
    (angle, angle_from): (&CrankAngle, AngleFrom),
    datum_offset: Option<CrankDelta>,
    cams: &[CamResult],
    notices: &mut Vec<Notice>,
) -> CompressionOutcome {
    let Heard { capture, engine, .. } = *heard;
    let mut unit = Unit::Amperes;
    let scaled: Option<Scaled> = heard.channel(Role::Starter).map(|(lead, channel)| {
        let scale = starter_scale(lead, channel).unwrap_or_else(|| {
            unit = Unit::Volts;
            notices.push(Notice {
                about: "starter".into(),
                text: "The clamp's scale is not known: amperes are not shown, compression is relative all the same. \
                       Give it with the column of the starter lead, as in \"starter=COLUMN:100A/V\"."
                    .into(),
            });
            1.0
        });
        channel.values.all().scaled(scale as f32)
    });
    let starter =
        heard.channel(Role::Starter).zip(scaled.as_ref()).map(|((_, channel), scaled)| {
            SampledLead { values: scaled.all(), unit, ..unscaled(capture, channel) }
        });
    let battery = heard.channel(Role::Battery).map(|(_, channel)| unscaled(capture, channel));
    let cam_shifts = cam_shifts(engine, cams);
    compression::measure(&CompressionInput {
        engine,
        angle,
        angle_from,
        datum_offset,
        starter,
        battery,
        triggers: &heard.triggers(),
        pressure: &heard.pressure(),
        cam_shifts: &cam_shifts,
    })
}

impl MeasuredCapture {
    /// Works out anew what the cams should make of the compression, after either was joined.
    pub(super) fn expect_compression(&mut self, engine: &Engine) {
        let shifts = cam_shifts(engine, &self.cams);
        let measured = self.compression.measured.as_ref();
        self.compression.expected =
            measured.and_then(|measured| expected_change(engine, measured, &shifts));
    }
}

/// Where the cams of each bank stand, as far as that was measured.
fn cam_shifts(engine: &Engine, cams: &[CamResult]) -> Vec<CamShift> {
    cams.iter()
        .filter_map(|cam| Some((&engine.cams[cam.measured.cam], cam, cam.deviation()?)))
        .flat_map(|(described, cam, deviation)| {
            let sd = cam.measured.half_width95 / NORMAL95;
            let shaft = described.shaft;
            described.banks.iter().map(move |&bank| CamShift { bank, shaft, deviation, sd })
        })
        .collect()
}
