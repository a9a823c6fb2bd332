//! What would mend an error, in the options of this command line. The one place outside the options
//! themselves that names them.

use crate::remedy::{Insistence, Mend, Remedy, Setting, Task};

/// An error as the command line tells it.
pub(super) fn told(error: &dyn Mend) -> String {
    error.told(&words)
}

fn words(remedy: &Remedy) -> String {
    match remedy {
        Remedy::Do(what) => what.clone().into_owned(),
        Remedy::Give { setting, value } if value.is_empty() => format!("give {}", usage(*setting)),
        // A lead is asked for in the words that the option takes, blanks among them.
        Remedy::Give { setting: Setting::Lead, value } => format!("give --lead \"{value}\""),
        Remedy::Give { setting, value } => format!("give {} {value}", option(*setting)),
        Remedy::Change(setting) => format!("give another one with {}", option(*setting)),
        Remedy::LeaveOut(setting) => format!("leave {} out", option(*setting)),
        Remedy::Check(setting) => format!("check the name after {}", option(*setting)),
        Remedy::All(all) => Remedy::together(all.iter().map(words)),
        Remedy::If { when, then } => Remedy::on_condition(when, &words(then)),
        Remedy::Insist(on) => format!("pass {}", insistence(*on)),
        Remedy::Task(task @ Task::KeepEngine) => {
            format!("{task} with `camwitness shelf keep ENGINE.toml`")
        }
        Remedy::Task(task @ Task::ListJobs) => format!("{task} with `camwitness shelf table`"),
        Remedy::Task(Task::NameWheel) => "run `camwitness wheels` for the names, give the path of a wheel file, or write N-M (M adjacent teeth missing) or N (even teeth); several gaps need a file".into(),
    }
}

/// The option that sets it.
fn option(setting: Setting) -> &'static str {
    let usage = usage(setting);
    let end = usage.find(" with ").or_else(|| match setting {
        Setting::Stretch => None,
        _ => usage.find(' '),
    });
    end.map_or(usage, |end| &usage[..end])
}

/// The option with what it takes.
fn usage(setting: Setting) -> &'static str {
    match setting {
        Setting::Lead => "--lead LEAD=COLUMN",
        Setting::SampleRate => "--rate with the samples per second",
        Setting::TimeUnit => "--time-unit with s, ms, us or ns",
        Setting::TimeColumn => "--time with the name of their column",
        Setting::DecimalMark => "--decimal comma or point",
        Setting::Separator => "--separator with what stands between the cells",
        Setting::RowKind => "--kind sampled or events",
        Setting::Stretch => "--from and --to with the first and the last second",
        Setting::Length => "--seconds with the length",
        Setting::Ripple => "--ripple with the swing of speed",
        Setting::Jitter => "--jitter with crank degrees",
        Setting::Standstill => "--standstill with seconds",
        Setting::Bits => "--bits with the scope's",
        Setting::Accuracy => "--accuracy DEGREES",
        Setting::CrankingSpeed => "--rpm RPM",
        Setting::ScopeChannels => "--channels N",
        Setting::Port => "--port PORT",
        Setting::EngineFile => "--engine FILE",
        Setting::JobFile => "--job FILE",
        Setting::PicturesFolder => "--plots FOLDER",
        Setting::EngineName => "--name NAME",
    }
}

fn insistence(on: Insistence) -> &'static str {
    match on {
        Insistence::AcceptFaulty => "--accept-faulty",
        Insistence::SeveralEngines => "--several-engines",
        Insistence::InOrder => "--in-order",
        Insistence::Replace => "--force",
    }
}

#[cfg(test)]
mod tests {
    use clap::CommandFactory;

    use super::*;

    #[test]
    fn every_remedy_names_an_option_there_is() {
        let program = super::super::Cli::command();
        let within = program.get_subcommands().flat_map(|command| command.get_subcommands());
        let options: Vec<String> = program
            .get_subcommands()
            .chain(within)
            .flat_map(|command| command.get_arguments())
            .filter_map(|option| Some(format!("--{}", option.get_long()?)))
            .collect();
        let page = cfg!(feature = "page");
        let there = |setting: &Setting| page || *setting != Setting::Port;
        let settings = Setting::ALL.into_iter().filter(there).map(option);
        let named = settings.chain(Insistence::ALL.map(insistence));
        for name in named.flat_map(|words| words.split(" and ")) {
            assert!(options.iter().any(|option| option == name), "no command has {name}");
        }
    }
}
