//! Gives channels their roles: as asked for, then by header.

use super::error::LeadError;
use super::request::half_a_scale;
use super::words::{CRANK, Extra, RoleGuess, Words, plain};
use super::{LeadRequest, Role};
use crate::capture::{Capture, Channel, LeftOut, Unit};
use crate::engine::Engine;
use crate::error::nearest;

/// A channel with its role.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lead {
    /// What it is connected to.
    pub role: Role,
    /// Index into the capture's channels.
    pub channel: usize,
    /// Amperes per volt, where the channel needs scaling.
    pub amperes_per_volt: Option<f64>,
}

/// Gives channels their roles: as asked for, then by header.
///
/// # Errors
/// An unknown lead or column, anything given twice, half a scale, or no crank.
pub fn assign(
    capture: &Capture,
    engine: &Engine,
    requests: &[LeadRequest],
) -> Result<Vec<Lead>, LeadError> {
    let leads = assign_any(capture, engine, requests)?;
    if leads.iter().any(|lead| lead.role == Role::Crank) {
        Ok(leads)
    } else {
        Err(no_crank(capture, engine))
    }
}

/// Gives channels their roles, where there need be no crank.
///
/// # Errors
/// As [`assign`], but for the crank.
pub fn assign_any(
    capture: &Capture,
    engine: &Engine,
    requests: &[LeadRequest],
) -> Result<Vec<Lead>, LeadError> {
    let mut leads: Vec<Lead> = Vec::new();
    let twice = |what: String| LeadError::Twice { source_name: capture.source.clone(), what };
    for request in requests {
        let role = Role::parse(&request.name, engine).ok_or_else(|| unknown(request, engine))?;
        let channel = find_column(capture, request, role)?;
        if leads.iter().any(|lead| lead.role == role) {
            return Err(twice(format!("lead \"{}\"", role.name(engine))));
        }
        if leads.iter().any(|lead| lead.channel == channel) {
            return Err(twice(format!("column \"{}\"", capture.channels[channel].name)));
        }
        leads.push(Lead { role, channel, amperes_per_volt: request.amperes_per_volt });
    }
    let asked: Vec<Lead> = leads.clone();
    // A header that is the name to the letter goes before one that only comes to the same.
    let mut named: Vec<(usize, Role, bool)> = (0..capture.channels.len())
        .filter_map(|channel| {
            let header = &capture.channels[channel].name;
            let role = Role::parse(header, engine)?;
            Some((channel, role, header.trim().eq_ignore_ascii_case(&role.name(engine))))
        })
        .filter(|(channel, role, _)| {
            // What was asked for stands before a header.
            !asked.iter().any(|lead| lead.channel == *channel || lead.role == *role)
        })
        .collect();
    named.sort_by_key(|&(channel, _, exact)| (!exact, channel));
    for &(channel, role, exact) in &named {
        let before = named.iter().take_while(|(other, ..)| *other != channel);
        match before.filter(|(_, other, _)| *other == role).map(|(.., exact)| *exact).next() {
            None => leads.push(Lead { role, channel, amperes_per_volt: None }),
            Some(first_exact) if first_exact && !exact => {}
            Some(_) => return Err(twice(format!("column \"{}\"", capture.channels[channel].name))),
        }
    }
    leads.sort_by_key(|lead| lead.role);
    Ok(leads)
}

/// That no column carries the crank, and which may.
fn no_crank(capture: &Capture, engine: &Engine) -> LeadError {
    let crank = |one: &&LeftOut| Words::of(&one.name).kind == Some(RoleGuess::Crank);
    if let Some(one) = capture.notes.lost().find(crank) {
        return LeadError::NoChannel {
            source_name: capture.source.clone(),
            column: one.name.clone().into(),
            lead: Role::Crank.name(engine),
            why: Box::new(one.why.clone()),
            nearest: None,
            known: column_names(capture).into(),
        };
    }
    LeadError::NoCrank {
        source_name: capture.source.clone(),
        likely: may_be_crank(capture).map(str::to_owned),
        known: column_names(capture),
    }
}

/// The header that speaks of the crank, though it is not its name.
#[must_use]
pub fn may_be_crank(capture: &Capture) -> Option<&str> {
    let speaks = |name: &&str| Words::of(name).kind == Some(RoleGuess::Crank);
    let lost = capture.notes.lost().map(|one| one.name.as_str());
    capture.channels.iter().map(|channel| channel.name.as_str()).chain(lost).find(speaks)
}

fn unknown(request: &LeadRequest, engine: &Engine) -> LeadError {
    let names: Vec<String> = Role::all(engine).iter().map(|role| role.name(engine)).collect();
    let wanted = plain(&request.name);
    LeadError::UnknownLead {
        name: request.name.clone(),
        nearest: nearest(&wanted, names.iter().map(String::as_str)).map(str::to_owned),
        known: lead_names(engine),
    }
}

/// A column by its header, without regard to case or with its unit, else by its position from 1,
/// time included.
fn find_column(capture: &Capture, request: &LeadRequest, role: Role) -> Result<usize, LeadError> {
    let wanted = request.column.as_str();
    let columns = &capture.channels;
    let by_name = |test: &dyn Fn(&str) -> bool| -> Vec<usize> {
        (0..columns.len()).filter(|&at| test(&columns[at].name)).collect()
    };
    let exact = by_name(&|name| name.eq_ignore_ascii_case(wanted));
    let position = wanted.parse::<usize>().ok();
    let by_position = || {
        columns.iter().position(|channel| Some(channel.column) == position).into_iter().collect()
    };
    let found = [exact, by_position(), by_name(&|name| plain(name) == plain(wanted))];
    let source_name = capture.source.clone();
    let (column, lead, known) = (wanted.to_owned(), request.name.clone(), column_names(capture));
    match found.into_iter().find(|found| !found.is_empty()).as_deref() {
        Some(&[only]) => return Ok(only),
        Some(_) => return Err(LeadError::SeveralColumns { source_name, column, lead, known }),
        None => {}
    }
    let clamp = role == Role::Starter && request.amperes_per_volt.is_none();
    if let Some((column, scale)) = half_a_scale(wanted).filter(|_| clamp) {
        let (column, scale) = (column.to_owned(), scale.to_owned());
        return Err(LeadError::HalfAScale { lead, column, scale });
    }
    let names = || columns.iter().map(|channel| channel.name.as_str());
    // Whoever writes a number may mean the one in a header: "Channel 1".
    let numbered = names()
        .find(|name| position.is_some() && plain(name).split(' ').next_back() == Some(wanted));
    let nearest = numbered.or_else(|| nearest(wanted, names())).map(str::to_owned);
    let left_out = &capture.notes.left_out;
    let named = |one: &&LeftOut| plain(&one.name) == plain(wanted);
    let placed = |one: &&LeftOut| Some(one.column) == position;
    Err(match left_out.iter().find(named).or_else(|| left_out.iter().find(placed)) {
        Some(one) => {
            let (why, column) = (Box::new(one.why.clone()), column.into());
            LeadError::NoChannel { source_name, column, lead, why, nearest, known: known.into() }
        }
        None => {
            LeadError::UnknownColumn { source_name, column, lead, nearest, known: known.into() }
        }
    })
}

fn column_names(capture: &Capture) -> String {
    let name = |channel: &Channel| format!("{} \"{}\"", channel.column, channel.name);
    capture.channels.iter().map(name).collect::<Vec<_>>().join(", ")
}

fn lead_names(engine: &Engine) -> String {
    let cams = engine.cams.iter().map(|cam| cam.name.as_str());
    [CRANK].into_iter().chain(cams).chain(Extra::FORMS).collect::<Vec<_>>().join(", ")
}

/// Amperes of a starter lead per unit of its channel; `None` when the channel is in volts and no
/// scale was given.
#[must_use]
pub fn starter_scale(lead: &Lead, channel: &Channel) -> Option<f64> {
    match channel.unit {
        Unit::Amperes => Some(lead.amperes_per_volt.unwrap_or(1.0)),
        Unit::Volts | Unit::Level => lead.amperes_per_volt,
    }
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use super::*;
    use crate::capture::{CaptureKind, Clock};
    use crate::units::Seconds;

    fn engine() -> Engine {
        let text = include_str!("../../demo-data/engine.toml");
        Engine::parse(text, Path::new("engine.toml")).expect("the demonstration engine")
    }

    /// A capture with the time in column 1 and these headers after it.
    fn capture(headers: &[&str]) -> Capture {
        let channel = |(index, name): (usize, &&str)| Channel {
            name: (*name).to_owned(),
            column: index + 2,
            unit: Unit::Volts,
            values: vec![0.0, 1.0].into(),
            over_range: Vec::new(),
        };
        let clock = Clock::Uniform { start: Seconds(0.0), step: Seconds(1.0) };
        let channels = headers.iter().enumerate().map(channel).collect();
        Capture::new("c.csv".into(), CaptureKind::Sampled, clock, channels)
    }

    /// Leads as `name column`, or the message.
    fn assigned(headers: &[&str], requests: &[&str]) -> Result<Vec<String>, String> {
        let (engine, capture) = (engine(), capture(headers));
        let requests: Vec<LeadRequest> =
            requests.iter().map(|text| text.parse().expect("a request")).collect();
        let leads = assign(&capture, &engine, &requests).map_err(|error| error.to_string())?;
        let said = |lead: &Lead| {
            format!("{} {}", lead.role.name(&engine), capture.channels[lead.channel].column)
        };
        Ok(leads.iter().map(said).collect())
    }

    #[test]
    fn headers_and_requests_name_leads() {
        let channels = ["Channel 1", "Channel 2", "Channel 3"];
        // (headers, requests, leads with the positions of their columns)
        let rows: [(&[&str], &[&str], &[&str]); 7] = [
            (&["crank", "B1 intake"], &[], &["crank 2", "B1 intake 3"]),
            (&["crank (V)", "b1_INTAKE [mV]"], &[], &["crank 2", "B1 intake 3"]),
            (
                &channels,
                &["crank=Channel 3", "B1 intake=channel 1 (V)"],
                &["crank 4", "B1 intake 2"],
            ),
            (&channels, &["crank=2"], &["crank 2"]),
            // To the letter goes before nearly.
            (&["crank (V)", "crank"], &[], &["crank 3"]),
            // What was asked for goes before a header.
            (&["crank", "crank (V)", "x"], &["crank=x"], &["crank 4"]),
            (&["1", "x"], &["crank=1"], &["crank 2"]),
        ];
        for (headers, requests, want) in rows {
            let got = assigned(headers, requests).expect("leads");
            assert_eq!(got, want, "{headers:?} {requests:?}");
        }
    }

    #[test]
    fn mistakes_are_said_with_what_was_meant() {
        let channels = ["Channel 1", "Channel 2"];
        // (headers, requests, parts of the message)
        let rows: [(&[&str], &[&str], &[&str]); 10] = [
            (&channels, &["crank=1"], &["no column \"1\"", "did you mean \"Channel 1\"?"]),
            (&channels, &["crank=Chanel 2"], &["did you mean \"Channel 2\"?"]),
            (&channels, &["crank=9"], &["no column \"9\""]),
            (&channels, &["crnk=2"], &["no lead \"crnk\" (did you mean \"crank\"?)"]),
            (&channels, &["b1 intak=2"], &["did you mean \"B1 intake\"?"]),
            (&channels, &["starter=Channel 2:60A"], &["\"60A\"", "starter=Channel 2:100A/V"]),
            // Only a clamp has a scale.
            (&channels, &["crank=CH:1"], &["no column \"CH:1\""]),
            (&["CKP", "x"], &[], &["\"CKP\" may be it", "\"crank=CKP\""]),
            (&["Crank (V)", "crank [V]"], &[], &["given twice"]),
            (&["x", "X"], &["crank=x"], &["more than one column", "by position"]),
        ];
        for (headers, requests, parts) in rows {
            let message = assigned(headers, requests).expect_err("a mistake");
            for part in parts {
                assert!(message.contains(part), "{requests:?}: {message}");
            }
        }
    }
}
