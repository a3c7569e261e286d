//! What is wrong with the arguments, in our own words.

use clap::error::{ContextKind, ContextValue, ErrorKind};

use super::Error;

/// The error of arguments that cannot be taken; `None` of what is no error to be told so: help and
/// version were asked for, or no command was given.
pub fn wrong_arguments(why: &clap::Error) -> Option<Error> {
    let of = |kind| why.get(kind).map(said).filter(|it| !it.is_empty());
    let argument = of(ContextKind::InvalidArg).unwrap_or_default();
    let value = of(ContextKind::InvalidValue).unwrap_or_default();
    let what = match why.kind() {
        ErrorKind::DisplayHelp
        | ErrorKind::DisplayVersion
        | ErrorKind::DisplayHelpOnMissingArgumentOrSubcommand => return None,
        ErrorKind::UnknownArgument => format!("there is no option {argument} here"),
        ErrorKind::InvalidSubcommand => {
            format!("there is no command {}", of(ContextKind::InvalidSubcommand)?)
        }
        ErrorKind::MissingSubcommand => "a command is missing".to_owned(),
        ErrorKind::MissingRequiredArgument => format!("{argument} is missing"),
        ErrorKind::ArgumentConflict => match of(ContextKind::PriorArg) {
            Some(other) if other != argument => {
                format!("{argument} and {other} cannot be given together")
            }
            _ => format!("{argument} is given twice"),
        },
        ErrorKind::InvalidValue if value.is_empty() => format!("{argument} lacks its value"),
        ErrorKind::InvalidValue | ErrorKind::ValueValidation => {
            format!("{value} is no value for {argument}")
        }
        ErrorKind::InvalidUtf8 => "an argument is no text in UTF-8".to_owned(),
        _ => first_line(why),
    };
    let reason = std::error::Error::source(why).map(ToString::to_string);
    let suggested =
        [ContextKind::SuggestedArg, ContextKind::SuggestedSubcommand, ContextKind::SuggestedValue]
            .into_iter()
            .find_map(|kind| why.get(kind).and_then(likeliest));
    let hint = match (reason, suggested, of(ContextKind::ValidValue)) {
        (Some(reason), ..) => reason,
        (_, Some(suggested), _) => format!("did you mean {suggested}? `overside help` shows all"),
        (_, _, Some(values)) => format!("give one of {values}"),
        _ => "`overside help` shows what there is, `overside help COMMAND` each option".to_owned(),
    };
    Some(Error::new(what, hint))
}

fn said(value: &ContextValue) -> String {
    match value {
        ContextValue::String(text) => text.clone(),
        ContextValue::Strings(texts) => texts.join(", "),
        _ => String::new(),
    }
}

/// Of what was perhaps meant the likeliest, which comes last.
fn likeliest(suggested: &ContextValue) -> Option<String> {
    match suggested {
        ContextValue::Strings(texts) => texts.last().cloned(),
        other => Some(said(other)),
    }
}

fn first_line(why: &clap::Error) -> String {
    let text = why.to_string();
    let line = text.lines().next().unwrap_or_default();
    line.strip_prefix("error: ").unwrap_or(line).to_owned()
}
