//! One lead as it is asked for: `crank=Channel 1`, `starter=Channel 4:100A/V`.

use std::str::FromStr;

/// Which column a lead is on, and the scale of a clamp.
#[derive(Debug, Clone, PartialEq)]
pub struct LeadRequest {
    /// Name of the lead.
    pub name: String,
    /// Header text or position of the column.
    pub column: String,
    /// Amperes per volt, where given.
    pub amperes_per_volt: Option<f64>,
}

/// How a lead is asked for.
const FORM: &str = "write LEAD=COLUMN, for example \"crank=Channel 1\" or \"B1 intake=3\"";

impl FromStr for LeadRequest {
    type Err = String;

    /// Reads `crank=Channel 1`, `B1 intake=3`, `starter=Channel 4:100A/V`.
    fn from_str(text: &str) -> Result<Self, String> {
        let (name, column) = text.split_once('=').ok_or(FORM)?;
        // A colon that is followed by no scale belongs to the column's name.
        let scaled =
            column.rsplit_once(':').and_then(|(column, scale)| Some((column, amperes(scale)?)));
        let (column, amperes_per_volt) = match scaled {
            Some((column, amperes)) => (column, Some(amperes)),
            None => (column, None),
        };
        if name.trim().is_empty() || column.trim().is_empty() {
            return Err(FORM.into());
        }
        Ok(LeadRequest {
            name: name.trim().to_owned(),
            column: column.trim().to_owned(),
            amperes_per_volt,
        })
    }
}

/// A clamp's scale in amperes per volt, as written: `100A/V`, `10 mV/A`.
fn amperes(scale: &str) -> Option<f64> {
    let lower: String = scale.to_lowercase().split_whitespace().collect();
    let (number, per_volt) = match lower.strip_suffix("a/v") {
        Some(number) => (number, true),
        None => (lower.strip_suffix("mv/a")?, false),
    };
    let value: f64 = number.parse().ok().filter(|value: &f64| value.is_finite())?;
    // 10 mV/A is 100 A/V.
    let amperes = if per_volt { value } else { 1000.0 / value };
    amperes.is_finite().then_some(amperes)
}

/// The end of a column's name that was meant for a scale but says no volts: `60A` of `Channel
/// 4:60A`.
pub(super) fn half_a_scale(column: &str) -> Option<(&str, &str)> {
    let (column, scale) = column.rsplit_once(':')?;
    let lower: String = scale.to_lowercase().split_whitespace().collect();
    let number = lower.strip_suffix("mv").or_else(|| lower.strip_suffix('a')).unwrap_or(&lower);
    number.parse::<f64>().is_ok().then_some((column.trim(), scale.trim()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lead_requests_read_as_written() {
        let read = |text: &str| text.parse::<LeadRequest>();
        let crank = read("crank=Channel 1").unwrap();
        assert_eq!((crank.name.as_str(), crank.column.as_str()), ("crank", "Channel 1"));
        for (scale, want) in
            [("100A/V", 100.0), ("10mV/A", 100.0), ("1 mV/A", 1000.0), ("60 A / V", 60.0)]
        {
            let starter = read(&format!("starter=Channel 4:{scale}")).unwrap();
            assert_eq!(starter.amperes_per_volt, Some(want), "{scale}");
            assert_eq!(starter.column, "Channel 4");
        }
        // A colon that is no scale belongs to the column's name.
        assert_eq!(read("crank=CH1: crank").unwrap().column, "CH1: crank");
        for bad in ["crank", "=Channel 1", "crank=", "  =  "] {
            assert!(read(bad).is_err(), "{bad}");
        }
    }

    #[test]
    fn half_a_scale_is_known_by_its_number() {
        let rows = [
            ("Channel 4:60A", Some(("Channel 4", "60A"))),
            ("4: 10 mV", Some(("4", "10 mV"))),
            ("4:100", Some(("4", "100"))),
            ("CH1: crank", None),
            ("Channel 4", None),
            ("4:A", None),
        ];
        for (column, want) in rows {
            assert_eq!(half_a_scale(column), want, "{column}");
        }
    }
}
