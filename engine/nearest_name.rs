//! "Did you mean …": the known name nearest to one that is not known.

/// The candidate most like `name`, if any is like enough to be worth a suggestion.
///
/// Likeness is the Damerau–Levenshtein distance without regard to case, at most a third of the longer word; a word that
/// would have to be rewritten whole is not like at all.
///
/// ```
/// use saggar::nearest_name::nearest;
/// assert_eq!(nearest("weathercok", ["wheel", "weathercock"]), Some("weathercock"));
/// assert_eq!(nearest("9", ["6", "8"]), None);
/// assert_eq!(nearest("teapot", ["wheel", "weathercock"]), None);
/// ```
pub fn nearest<'a>(name: &str, candidates: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let name = name.to_lowercase();
    // A word of a megabyte is nobody's slip of the pen, and the distance is quadratic in the length.
    if name.len() > 200 {
        return None;
    }
    candidates
        .into_iter()
        .filter_map(|candidate| {
            let other = candidate.to_lowercase();
            let distance = strsim::damerau_levenshtein(&name, &other);
            let longer = name.chars().count().max(other.chars().count());
            (distance * 3 <= longer.max(3) && distance < longer).then_some((distance, candidate))
        })
        .min()
        .map(|(_, candidate)| candidate)
}
