//! What follows the `#` of the page's address: `setup=1.…`, `lesson=04-poles`, `step=2`, joined by
//! `&`, each at most once, in any order.
//!
//! An address comes from anybody: only what is read here counts, and what it says is checked
//! where it is used. What is not known is passed over, so that a later page may say more.

/// What an address asks for.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Address {
    /// The person's own setup, as [`crate::setup::to_link`] writes it.
    pub(super) setup: Option<String>,
    /// A lesson: the name of its folder, its number, or a part of the name.
    pub(super) lesson: Option<String>,
    /// The task of the lesson at which to begin, by the number that the lesson gives it.
    pub(super) step: Option<usize>,
}

/// Longest name of a lesson, in bytes.
const LONGEST_NAME: usize = 80;

impl Address {
    /// Reads it; of what is written twice the first counts.
    pub(super) fn parse(fragment: &str) -> Self {
        let mut found = Self::default();
        for part in fragment.split('&') {
            let Some((key, value)) = part.split_once('=') else {
                continue;
            };
            match key {
                "setup" if found.setup.is_none() => found.setup = Some(value.to_owned()),
                "lesson" if found.lesson.is_none() && value.len() <= LONGEST_NAME => {
                    found.lesson = Some(value.to_owned());
                }
                "step" if found.step.is_none() => found.step = value.parse().ok(),
                _ => {}
            }
        }
        found
    }

    /// Writes it.
    pub(super) fn to_fragment(&self) -> String {
        let mut parts = Vec::new();
        if let Some(lesson) = &self.lesson {
            parts.push(format!("lesson={lesson}"));
            if let Some(step) = self.step {
                parts.push(format!("step={step}"));
            }
        }
        if let Some(setup) = &self.setup {
            parts.push(format!("setup={setup}"));
        }
        parts.join("&")
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn what_is_odd_is_passed_over() {
        let empty = Address::default();
        for odd in [
            "", "#", "&&&", "=", "step", "step=-1", "step=1e3", "other=4", "Setup=1",
        ] {
            assert_eq!(Address::parse(odd), empty, "{odd:?}");
        }
        let long = format!("lesson={}", "a".repeat(LONGEST_NAME + 1));
        assert_eq!(Address::parse(&long), empty);
        let twice = Address::parse("step=2&step=3&lesson=4&setup=1.a=b");
        assert_eq!(twice.step, Some(2));
        assert_eq!(twice.lesson.as_deref(), Some("4"));
        assert_eq!(twice.setup.as_deref(), Some("1.a=b"));
    }

    proptest! {
        #[test]
        fn what_is_written_is_read_back(
            setup in proptest::option::of("1\\.[A-Za-z0-9_-]{1,80}"),
            lesson in proptest::option::of("[0-9]{2}-[a-z-]{1,30}"),
            step in proptest::option::of(0_usize..100),
        ) {
            let step = step.filter(|_| lesson.is_some());
            let address = Address { setup, lesson, step };
            prop_assert_eq!(Address::parse(&address.to_fragment()), address);
        }

        #[test]
        fn nothing_that_is_written_there_stops_the_reader(fragment in ".{0,300}") {
            let _ = Address::parse(&fragment);
            let _ = crate::setup::from_link(&fragment);
        }
    }
}
