//! Where a piece stands, in one line.

use crate::verdict::standing::Standing;
use crate::verdict::wording::chance;

/// `Thackle & Umber (K07) 0.77, 1850–1869 0.92`.
#[must_use]
pub fn standing(standing: &Standing) -> String {
    let mut parts = Vec::new();
    if let Some(leader) = &standing.leader {
        let name = if leader.name == leader.id {
            leader.id.clone()
        } else {
            format!("{} ({})", leader.name, leader.id)
        };
        parts.push(format!("{name} {}", chance(leader.probability)));
    }
    if let Some(dating) = &standing.dating {
        parts.push(format!(
            "{} {}",
            dating.in_words(),
            chance(dating.probability)
        ));
    }
    if standing.is_what_if {
        parts.push("what-if, not an opinion".to_owned());
    }
    parts.join(", ")
}
