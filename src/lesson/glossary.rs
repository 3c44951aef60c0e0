//! The glossary of the course: each term once, with the lesson that defines it.

/// One term.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Term {
    /// What links call it: `back-emf`.
    pub name: String,
    /// As it is written: `Back-EMF`.
    pub heading: String,
    /// What it means, Markdown.
    pub text: String,
}

/// All terms in the order of the file.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Glossary {
    /// What stands before the first term: how to read the entries. Markdown.
    pub intro: String,
    /// The terms.
    pub terms: Vec<Term>,
}

impl Glossary {
    /// Reads a glossary: a heading `## Term` and what it means under it.
    #[must_use]
    pub fn parse(text: &str) -> Self {
        let mut terms: Vec<Term> = Vec::new();
        let mut intro = String::new();
        for line in text.lines() {
            if let Some(heading) = line.strip_prefix("## ") {
                terms.push(Term {
                    name: name_of(heading),
                    heading: heading.trim().to_owned(),
                    text: String::new(),
                });
            } else if let Some(term) = terms.last_mut() {
                term.text.push_str(line);
                term.text.push('\n');
            } else if !line.starts_with("# ") {
                intro.push_str(line);
                intro.push('\n');
            }
        }
        for term in &mut terms {
            term.text = term.text.trim().to_owned();
        }
        let intro = intro.trim().to_owned();
        Self { intro, terms }
    }

    /// A term by its name.
    #[must_use]
    pub fn term(&self, name: &str) -> Option<&Term> {
        self.terms.iter().find(|term| term.name == name)
    }
}

/// What links call a term: small letters and digits, dashes between.
fn name_of(heading: &str) -> String {
    let mut name = String::new();
    for c in heading.trim().chars() {
        if c.is_ascii_alphanumeric() {
            name.push(c.to_ascii_lowercase());
        } else if !name.ends_with('-') && !name.is_empty() {
            name.push('-');
        }
    }
    name.trim_end_matches('-').to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_heading_is_a_term() {
        let glossary =
            Glossary::parse("# Glossary\n\nAll.\n\n## Back-EMF\n\nA voltage.\n\n## Kv\nSpeed\n");
        let names: Vec<&str> = glossary
            .terms
            .iter()
            .map(|term| term.name.as_str())
            .collect();
        assert_eq!(names, ["back-emf", "kv"]);
        assert_eq!(glossary.intro, "All.");
        assert_eq!(glossary.term("back-emf").unwrap().text, "A voltage.");
        assert_eq!(
            name_of("Slots per pole and phase (q)"),
            "slots-per-pole-and-phase-q"
        );
    }
}
