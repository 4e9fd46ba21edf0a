//! Notes that nothing keeps: `jug.saw("tint", "blue");` alone gives a piece with the note, which is thrown away.

use rhai::{Expr, Position, Stmt};

use super::reference::{self, Call};

/// Where a script describes a piece and keeps nothing of it, with the function called last.
pub(super) fn notes(statements: &[Stmt]) -> Vec<(Position, String)> {
    let mut found = Vec::new();
    look(statements, true, &mut found);
    // The reference is not drawn up for a script that throws nothing away.
    if found.is_empty() {
        return found;
    }
    let topics = reference::topics();
    let functions = || topics.iter().flat_map(|topic| &topic.functions);
    let gives_a_piece = |name: &str| {
        functions().any(|f| f.name == name && f.call == Call::Method && f.gives == "piece")
    };
    found.retain(|(_, name)| gives_a_piece(name));
    found
}

/// The methods whose values are thrown away; the last statement of a block may be its value.
fn look(block: &[Stmt], is_value: bool, found: &mut Vec<(Position, String)>) {
    for (place, statement) in block.iter().enumerate() {
        let is_value = is_value && place + 1 == block.len();
        match statement {
            Stmt::Expr(expression) if !is_value => {
                if let Some((position, name)) = last_call(expression) {
                    found.push((position, name.to_owned()));
                }
            }
            Stmt::Block(inner) => look(inner.statements(), is_value, found),
            Stmt::If(flow, _) => {
                look(flow.body.statements(), is_value, found);
                look(flow.branch.statements(), is_value, found);
            }
            Stmt::While(flow, _) | Stmt::Do(flow, ..) => {
                look(flow.body.statements(), false, found);
            }
            Stmt::For(all, _) => look(all.2.body.statements(), false, found),
            _ => {}
        }
    }
}

/// The function that is called last in `a.b().c()`.
fn last_call(expression: &Expr) -> Option<(Position, &str)> {
    match expression {
        Expr::Dot(both, ..) => last_call(&both.rhs),
        Expr::MethodCall(call, position) => Some((*position, call.name.as_str())),
        _ => None,
    }
}
