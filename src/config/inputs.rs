//! Inputs written into the configuration: added at its end, or at another rate than before. Nothing
//! else of it is changed.

use std::ops::Range;
use std::path::Path;

use toml::de::DeTable;

use super::enrol::{fitted, quoted};
use super::{Config, Input, NotEntered};

/// The text of a configuration with more inputs at its end, and those of which another address is
/// given by the same name at that address. `path` names it in errors.
///
/// # Errors
/// A configuration that cannot be read, or that could not be read afterwards as what it should be.
pub fn with_inputs(text: &str, path: &Path, inputs: &[Input]) -> Result<String, NotEntered> {
    let before = Config::parse(text, path)
        .map_err(|why| NotEntered::new(why.to_string(), "correct the file first"))?;
    let (mut wanted, mut after, mut lines) = (before.clone(), text.to_owned(), String::new());
    let mut corrected = Vec::new();
    for input in inputs {
        match wanted.inputs.iter().position(|it| it.name == input.name) {
            Some(place) if place < before.inputs.len() => {
                corrected.push((span(text, place), input));
                wanted.inputs[place].uri.clone_from(&input.uri);
            }
            _ => {
                let (name, uri) = (quoted(&input.name), quoted(&input.uri));
                lines.push_str(&format!("\n[[input]]\nname = {name}\nuri = {uri}\n"));
                wanted.inputs.push(input.clone());
            }
        }
    }
    // From the end on: the places before stay what they are.
    corrected.sort_by_key(|(span, _)| std::cmp::Reverse(span.as_ref().map(|span| span.start)));
    for (span, input) in corrected {
        if let Some(span) = span {
            after.replace_range(span, &quoted(&input.uri));
        }
    }
    after.push_str(&fitted(&lines, text));
    match Config::parse(&after, path) {
        Ok(read) if read == wanted => Ok(after),
        _ => Err(NotEntered::new(
            "the inputs cannot be written into the file as it is",
            "write them with an editor",
        )),
    }
}

/// Where the address of an input stands in the text.
fn span(text: &str, place: usize) -> Option<Range<usize>> {
    let document = DeTable::parse(text).ok()?;
    let input = document.get_ref().get("input")?.get_ref().as_array()?.get(place)?;
    Some(input.get_ref().as_table()?.get("uri")?.span())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn input(name: &str, uri: &str) -> Input {
        Input::new(name.to_owned(), uri.to_owned())
    }

    #[test]
    fn inputs_are_added_and_corrected_and_no_other_byte_changes() {
        let text = "# by hand\n[[input]] # the mast\nname = \"ais\"\n\
                    uri = 'serial:/dev/a?baud=4800' # old\n\n[vessel]\nname = \"Demo\"";
        let new = [input("gnss", "udp://0.0.0.0:2000"), input("ais", "serial:/dev/a?baud=38400")];
        let after = with_inputs(text, Path::new("it"), &new).unwrap();
        let corrected = text.replace("'serial:/dev/a?baud=4800'", "\"serial:/dev/a?baud=38400\"");
        let added = "\n\n[[input]]\nname = \"gnss\"\nuri = \"udp://0.0.0.0:2000\"\n";
        assert_eq!(after, format!("{corrected}{added}"));
        let dos = with_inputs("[vessel]\r\n", Path::new("it"), &new[..1]).unwrap();
        assert_eq!(dos, format!("[vessel]\r\n{}", added[1..].replace('\n', "\r\n")));
        assert_eq!(with_inputs("", Path::new("it"), &[]).unwrap(), "");
        assert!(with_inputs("vesel = 1", Path::new("it"), &[]).is_err());
    }

    #[test]
    fn what_is_written_in_one_line_is_left_to_its_owner() {
        let text = "input = [{ name = \"a\", uri = \"-\" }]\n";
        let why = with_inputs(text, Path::new("it"), &[input("b", "-")]).unwrap_err();
        assert!(why.to_string().contains("with an editor"), "{why}");
    }
}
