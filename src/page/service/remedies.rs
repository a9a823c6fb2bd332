//! What would mend an error, in the fields and buttons of the page.

use crate::remedy::{Insistence, Mend, Remedy, Setting, Task};

/// An error as the page tells it.
pub(super) fn told(error: &dyn Mend) -> String {
    error.told(&words)
}

/// Names of the fields that would mend it, as the page's script knows them.
pub(super) fn fields(error: &dyn Mend) -> Vec<&'static str> {
    let remedies = error.remedies();
    let mut fields: Vec<&'static str> =
        remedies.iter().filter_map(|remedy| field(remedy.setting()?)).collect();
    fields.dedup();
    fields
}

/// The field for it; those about reading a file are only shown when something asks for them.
fn field(setting: Setting) -> Option<&'static str> {
    Some(match setting {
        Setting::SampleRate => "rate",
        Setting::TimeUnit => "time_unit",
        Setting::TimeColumn => "time",
        Setting::DecimalMark => "decimal",
        Setting::Separator => "separator",
        Setting::RowKind => "kind",
        Setting::Stretch => "stretch",
        Setting::Lead => "leads",
        _ => return None,
    })
}

/// Whether a setting is a choice below the place a file is dropped on.
fn field_below(setting: Setting) -> bool {
    use Setting::{DecimalMark, RowKind, Separator, TimeUnit};
    matches!(setting, TimeUnit | DecimalMark | Separator | RowKind)
}

/// One remedy as the page tells it.
pub(super) fn words(remedy: &Remedy) -> String {
    match remedy {
        Remedy::Give { setting: Setting::Lead, .. } => {
            "choose in step 1 what each column carries".into()
        }
        Remedy::Give { setting: Setting::SampleRate, value } => {
            let what = value.strip_prefix("with ").unwrap_or("the samples per second");
            format!("give {what} below and press “Read again”")
        }
        Remedy::Give { setting: Setting::TimeColumn, .. } => {
            "write the name of their column below and press “Read again”".into()
        }
        Remedy::LeaveOut(Setting::SampleRate) => "leave the samples per second below empty".into(),
        Remedy::Give { setting, .. } | Remedy::Change(setting) if field_below(*setting) => {
            format!("choose {setting} below and press “Read again”")
        }
        Remedy::LeaveOut(setting) if field_below(*setting) => {
            format!("leave {setting} below to the file")
        }
        Remedy::Give { setting: Setting::Stretch, value } => {
            format!("give the first and the last second in step 3, {value}")
        }
        Remedy::Change(Setting::Stretch) => "give other seconds in step 3".into(),
        Remedy::LeaveOut(Setting::Stretch) => "leave the seconds in step 3 empty".into(),
        Remedy::Give {
            setting: Setting::ScopeChannels | Setting::Accuracy | Setting::CrankingSpeed,
            value,
        } => {
            format!("give {value}")
        }
        Remedy::Give { setting, .. } | Remedy::Change(setting) | Remedy::LeaveOut(setting) => {
            format!("use the program in a terminal, where {setting} can be given")
        }
        Remedy::All(all) => Remedy::together(all.iter().map(words)),
        Remedy::If { when, then } => Remedy::on_condition(when, &words(then)),
        Remedy::Insist(Insistence::InOrder) => "press “They are in order: compare them”".into(),
        Remedy::Insist(Insistence::SeveralEngines) => {
            "tick “Each is of another engine of this type”".into()
        }
        Remedy::Insist(Insistence::AcceptFaulty) => "tick “They are known to be sound”".into(),
        Remedy::Task(Task::NameWheel) => "choose a wheel of the list, or write N-M (M adjacent teeth missing), N (even teeth), gaps by number, 36 without 35 36, or teeth in degrees, 0..30 90..150".into(),
        Remedy::Do(_) | Remedy::Check(_) | Remedy::Insist(_) | Remedy::Task(_) => {
            remedy.to_string()
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::capture::{ReadOptions, read_bytes};

    #[test]
    fn a_capture_without_times_is_asked_for_its_rate_in_the_field_for_it() {
        let rows = "crank,cam\n1.5,2\n2.5,3\n1.5,4\n".repeat(3);
        let error = read_bytes(rows.as_bytes(), "untimed.csv", &ReadOptions::default())
            .expect_err("no times");
        assert_eq!(fields(&error), ["rate", "time"], "{error}");
        assert!(told(&error).contains("Read again"), "{}", told(&error));
    }

    #[test]
    fn every_remedy_has_words_and_none_names_an_option() {
        let gives = Setting::ALL.map(Remedy::give);
        let others = Setting::ALL.map(Remedy::Change).into_iter();
        let checks = Setting::ALL.map(Remedy::Check).into_iter();
        let insists = Insistence::ALL.map(Remedy::Insist);
        let tasks = Task::ALL.map(Remedy::Task);
        for remedy in gives.into_iter().chain(others).chain(checks).chain(insists).chain(tasks) {
            let said = words(&remedy);
            assert!(!said.is_empty() && !said.contains("--"), "{remedy:?}: {said}");
            assert!(!said.contains("camwitness"), "no command either: {said}");
        }
        // The buttons and fields that are named are on the page.
        let page = [include_str!("markup/steps.rs"), include_str!("markup/tools.rs")].concat();
        for there in [
            "Read again",
            "They are in order: compare them",
            "1. Capture",
            "3. Measure",
            "Each is of another engine of this type",
            "They are known to be sound",
        ] {
            assert!(page.contains(there), "{there}");
        }
    }
}
