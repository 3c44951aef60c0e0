//! The lesson that a writer starts from.

/// The files of a new lesson called `title`: a commented lesson.md and its setup, by name.
#[must_use]
pub fn starter(title: &str) -> [(&'static str, String); 2] {
    let quoted = toml::Value::String(title.replace(['\n', '\r'], " ")).to_string();
    let text = include_str!("starter.md").replacen("\"A lesson of my own\"", &quoted, 1);
    [
        ("lesson.md", text),
        ("start.toml", include_str!("starter.toml").to_owned()),
    ]
}
