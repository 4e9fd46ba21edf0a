//! The functions of all topics.

use rhai::Engine;

use super::function::Topic;
use super::registered::{functions, idle};
use super::type_names::in_words_everywhere;
use crate::script::host::{self, TOPICS};

/// Every function of the language, by topic.
#[must_use]
pub fn topics() -> Vec<Topic> {
    let run = idle();
    let topic = |topic: &host::Topic| {
        let mut engine = Engine::new_raw();
        (topic.register)(&mut engine, &run);
        Topic {
            title: topic.title,
            about: topic.about,
            functions: functions(&engine),
        }
    };
    let mut topics: Vec<Topic> = TOPICS.iter().map(topic).collect();
    in_words_everywhere(&mut topics);
    topics
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_function_says_what_it_does_and_shows_it() {
        for topic in topics() {
            assert!(!topic.functions.is_empty(), "{}", topic.title);
            for function in topic.functions {
                let signature = function.signature();
                assert!(!function.text.is_empty(), "{signature} has no doc comment");
                assert!(!function.examples.is_empty(), "{signature} has no example");
                for (name, kind) in &function.parameters {
                    assert!(!name.is_empty(), "{signature}: a parameter without a name");
                    assert!(
                        kind.chars()
                            .all(|c| c.is_lowercase() || matches!(c, ' ' | ',' | '-')),
                        "{signature}: `{kind}` is no word for a type"
                    );
                }
            }
        }
    }

    #[test]
    fn every_function_has_a_topic() {
        let all = functions(&host::engine(&idle()));
        let topics = topics();
        // What replaces a function of Rhai for its safety alone.
        let replaced = ["replace", "sleep", "timestamp"];
        for function in all.iter().filter(|f| !replaced.contains(&f.name.as_str())) {
            let known = topics.iter().flat_map(|t| &t.functions);
            assert!(
                known.clone().any(|f| f.name == function.name),
                "{} is registered outside the topics",
                function.name
            );
        }
    }
}
