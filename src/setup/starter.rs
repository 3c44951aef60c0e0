//! The setup that a new file begins with.

use super::built_in;

/// The title line of the built-in setup.
const TITLE_LINE: &str = "title = \"Pond aerator on three cells\"";

/// A commented setup to start from, called `name`: the built-in machine under another title.
///
/// ```
/// use wyebench::setup::{Setup, starter};
/// let setup = Setup::parse(&starter("Sluice drive"), "sluice.toml").unwrap();
/// assert_eq!(setup.title, "Sluice drive");
/// ```
#[must_use]
pub fn starter(name: &str) -> String {
    let quoted = toml::Value::String(name.replace(['\n', '\r'], " ")).to_string();
    built_in().replacen(TITLE_LINE, &format!("title = {quoted}"), 1)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::setup::Setup;

    #[test]
    fn a_starter_is_the_built_in_setup_under_another_name() {
        let built_in = Setup::parse(built_in(), "built in").unwrap();
        for name in [
            "Cargo trolley",
            "",
            "with \"quotes\" and \\",
            "'single'",
            "two\nlines",
            "\u{7}",
        ] {
            let mut setup = Setup::parse(&starter(name), "starter").unwrap();
            assert_eq!(setup.title, name.replace('\n', " "));
            setup.title.clone_from(&built_in.title);
            assert_eq!(setup, built_in);
        }
    }
}
