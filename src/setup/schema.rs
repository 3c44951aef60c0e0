//! The setup file as a JSON Schema, for editors that complete and check while one types.

use std::borrow::Cow;

use schemars::generate::SchemaSettings;
use schemars::{JsonSchema, Schema, SchemaGenerator};
use serde_json::{Map, Value, json};

use super::keys::{Absent, CHANGE_KEYS, KEYS, KeySpec, Kind, TABLES, changeable_keys};
use super::model::Setup;
use super::units::{Quantity, UNITS};

/// The JSON Schema (draft 2020-12) of the setup file.
///
/// It is made from the same table as the parser. What only the parser can know stays out of it:
/// ranges of quantities, and what two keys say about each other.
#[must_use]
pub fn json_schema() -> Value {
    SchemaSettings::draft2020_12()
        .into_generator()
        .into_root_schema_for::<Setup>()
        .to_value()
}

impl JsonSchema for Setup {
    fn schema_name() -> Cow<'static, str> {
        "Wyebench setup".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        let mut root = table_schema(
            "",
            "What stands on the bench: machine, drive, supply, load, run.",
        );
        root.remove("type");
        let mut schema = Schema::default();
        schema.insert("type".into(), "object".into());
        for (key, value) in root {
            schema.insert(key, value);
        }
        schema
    }
}

/// A table with its keys and the tables in it.
fn table_schema(table: &str, about: &str) -> Map<String, Value> {
    let mut properties = Map::new();
    let mut required = Vec::new();
    for spec in KEYS
        .iter()
        .chain(CHANGE_KEYS)
        .filter(|k| k.table() == table)
    {
        properties.insert(spec.name().to_owned(), key_schema(spec));
        if spec.absent == Absent::Required {
            required.push(spec.name());
        }
    }
    for (path, about) in TABLES {
        let (parent, name) = path.rsplit_once('.').unwrap_or(("", path));
        if parent != table {
            continue;
        }
        let inner = Value::Object(table_schema(path, about));
        if *path == "change" {
            let list = json!({ "type": "array", "description": about, "items": inner });
            properties.insert(name.to_owned(), list);
        } else {
            properties.insert(name.to_owned(), inner);
        }
        // Tables without which there is no setup.
        if [
            "machine",
            "machine.phase",
            "machine.emf",
            "machine.rotor",
            "supply",
        ]
        .contains(path)
        {
            required.push(name);
        }
    }
    let mut schema = Map::new();
    schema.insert("type".into(), "object".into());
    schema.insert("description".into(), about.into());
    schema.insert("properties".into(), Value::Object(properties));
    schema.insert("required".into(), json!(required));
    schema.insert("additionalProperties".into(), false.into());
    schema
}

fn key_schema(spec: &KeySpec) -> Value {
    let mut schema = match spec.kind {
        Kind::Quantity { quantity, .. } => {
            json!({ "type": "string", "pattern": pattern(quantity) })
        }
        Kind::Number { min, max } => {
            let least = if min.included {
                "minimum"
            } else {
                "exclusiveMinimum"
            };
            let most = if max.included {
                "maximum"
            } else {
                "exclusiveMaximum"
            };
            let end = |text: &str| text.parse::<f64>().unwrap_or(0.0);
            json!({ "type": "number", least: end(min.text), most: end(max.text) })
        }
        Kind::Whole { min, max } => json!({ "type": "integer", "minimum": min, "maximum": max }),
        Kind::Word { words, .. } => json!({ "type": "string", "enum": words }),
        Kind::Flag => json!({ "type": "boolean" }),
        Kind::Text if spec.path == "change.set" => {
            json!({ "type": "string", "enum": changeable_keys().map(|k| k.path).collect::<Vec<_>>() })
        }
        Kind::Text if spec.path == "change.to" => json!({ "type": ["string", "number"] }),
        Kind::Text => json!({ "type": "string" }),
        Kind::Harmonics => json!({
            "type": "array",
            "items": {
                "type": "array",
                "prefixItems": [
                    { "type": "integer", "minimum": 1, "maximum": 199 },
                    { "type": "number" },
                ],
                "items": false,
                "minItems": 2,
            },
        }),
    };
    let range = match spec.kind {
        Kind::Quantity { .. } => format!(" ({})", spec.kind.allowed()),
        _ => String::new(),
    };
    schema["description"] = format!("{}{range}", spec.about).into();
    if let Ok(example) = toml::from_str::<Value>(&format!("example = {}", spec.example)) {
        schema["examples"] = json!([example["example"]]);
    }
    if let Absent::Default(text) = spec.absent {
        schema["default"] = match spec.kind {
            Kind::Number { .. } | Kind::Whole { .. } | Kind::Flag => {
                serde_json::from_str(text).unwrap_or(Value::Null)
            }
            _ => text.into(),
        };
    }
    schema
}

/// What a quantity looks like: a number and one of its units in the usual spellings.
fn pattern(quantity: Quantity) -> String {
    let escape = |text: &str| {
        let mut out = String::new();
        for c in text.chars() {
            match c {
                ' ' => out.push_str("[ ·*]?"),
                '2' => out.push_str("(\\^?2|²)"),
                '(' | ')' => {
                    out.push('\\');
                    out.push(c);
                }
                '/' => out.push_str(" ?/ ?"),
                c => out.push(c),
            }
        }
        out
    };
    let units: Vec<String> = UNITS
        .iter()
        .filter(|u| u.quantity == quantity)
        .map(|u| {
            let prefix = match u.prefixes {
                "" => String::new(),
                p if p.contains('u') => format!("[{p}µμ]?"),
                p => format!("[{p}]?"),
            };
            let mut spellings: Vec<String> = u.spellings.iter().map(|s| escape(s)).collect();
            match u.spellings[0] {
                "ohm" => spellings.extend(["Ω".into(), "Ω".into()]),
                "deg" => spellings.push("°".into()),
                "degC" => spellings.push("° ?C".into()),
                _ => {}
            }
            format!("{prefix}({})", spellings.join("|"))
        })
        .collect();
    let number = r"\s*[+-]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][+-]?[0-9]+)?\s*";
    format!("^{number}({})\\s*$", units.join("|"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::setup::{Problem, Setup, built_in};
    use std::collections::BTreeSet;

    fn paths(schema: &Value, prefix: &str, out: &mut BTreeSet<String>) {
        for (name, inner) in schema["properties"].as_object().unwrap() {
            let path = if prefix.is_empty() {
                name.clone()
            } else {
                format!("{prefix}.{name}")
            };
            let inner = if inner["type"] == "array" && inner["items"]["type"] == "object" {
                &inner["items"]
            } else {
                inner
            };
            if inner["type"] == "object" {
                paths(inner, &path, out);
            } else {
                out.insert(path);
            }
        }
    }

    /// Asks the parser itself, not its table: a key it knows is never an unknown one.
    #[test]
    fn the_parser_knows_exactly_the_keys_of_the_schema() {
        let mut in_schema = BTreeSet::new();
        paths(&json_schema(), "", &mut in_schema);
        let unknown = |path: &str| {
            let text = match path.strip_prefix("change.") {
                Some(name) => format!("[[change]]\n{name} = 1\n"),
                None => format!("{path} = 1\n"),
            };
            let errors = Setup::parse(&text, "key").unwrap_err();
            errors
                .problems()
                .iter()
                .any(|p| matches!(p, Problem::UnknownKey { .. }))
        };
        for path in &in_schema {
            assert!(!unknown(path), "the parser does not know {path}");
        }
        for spec in KEYS.iter().chain(CHANGE_KEYS) {
            assert!(
                in_schema.contains(spec.path),
                "the schema does not know {}",
                spec.path
            );
        }
        assert!(unknown("machine.pole"), "the check itself can fail");
    }

    #[test]
    fn words_ranges_and_examples_are_in_it() {
        let schema = json_schema();
        let duty = &schema["properties"]["drive"]["properties"]["pwm"]["properties"]["duty"];
        assert_eq!(
            (&duty["minimum"], &duty["maximum"]),
            (&json!(0.0), &json!(1.0))
        );
        let chop = &schema["properties"]["drive"]["properties"]["pwm"]["properties"]["chop"];
        assert_eq!(
            chop["enum"],
            json!(["high-side", "high-side-synchronous", "both-sides"])
        );
        assert_eq!(chop["default"], "high-side");
        assert!(schema["$schema"].as_str().unwrap().contains("2020-12"));
        assert!(built_in().contains("format = 1"));
    }
}
