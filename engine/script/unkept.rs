//! Notes that nothing keeps: `jug.saw("tint", "blue");` alone gives a piece with the note, which is thrown away.

use rhai::{Expr, Position, Stmt};

use super::reference::{self, Call};

/// Where a script describes a piece and keeps nothing of it, with the function called last.
pub(super) fn notes(statements: &[Stmt]) -> Vec<(Position, String)> {
    let topics = reference::topics();
    let functions = topics.iter().flat_map(|topic| &topic.functions);
    let gives_a_piece = functions.filter(|f| f.call == Call::Method && f.gives == "piece");
    let names: Vec<&str> = gives_a_piece.map(|f| f.name.as_str()).collect();
    let mut found = Vec::new();
    look(statements, true, &names, &mut found);
    found
}

/// The last statement of a block may be its value.
fn look(block: &[Stmt], is_value: bool, names: &[&str], found: &mut Vec<(Position, String)>) {
    for (place, statement) in block.iter().enumerate() {
        let is_value = is_value && place + 1 == block.len();
        match statement {
            Stmt::Expr(expression) if !is_value => {
                if let Some((position, name)) = last_call(expression)
                    && names.contains(&name)
                {
                    found.push((position, name.to_owned()));
                }
            }
            Stmt::Block(inner) => look(inner.statements(), is_value, names, found),
            Stmt::If(flow, _) => {
                look(flow.body.statements(), is_value, names, found);
                look(flow.branch.statements(), is_value, names, found);
            }
            Stmt::While(flow, _) | Stmt::Do(flow, ..) => {
                look(flow.body.statements(), false, names, found);
            }
            Stmt::For(all, _) => look(all.2.body.statements(), false, names, found),
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
