//! Markup as every program that reads it takes it.

/// Every drawing of a page, from `<svg` to its end.
pub fn drawings(page: &str) -> Vec<&str> {
    let from_each = page.match_indices("<svg").map(|(from, _)| &page[from..]);
    from_each.map(|rest| &rest[..rest.find("</svg>").expect("it ends") + 6]).collect()
}

/// The first fault of a drawing as XML 1.0 has it: an element that is not closed, or closed out of turn
/// (section 3, "Element Type Match"), or an ampersand that begins no entity (section 2.4).
pub fn fault(drawing: &str) -> Option<String> {
    let is_known = |entity: &str| {
        ["amp", "lt", "gt", "quot", "apos"].contains(&entity) || entity.starts_with('#')
    };
    let mut entities = drawing.split('&').skip(1).map(|rest| rest.split(';').next().unwrap());
    if let Some(bare) = entities.find(|entity| !is_known(entity)) {
        return Some(format!("bare: &{bare:.20}"));
    }
    let mut open: Vec<&str> = Vec::new();
    for tag in drawing.split('<').skip(1) {
        let Some((tag, _)) = tag.split_once('>') else { return Some(format!("no end: <{tag}")) };
        let name = tag.split([' ', '/']).find(|part| !part.is_empty()).unwrap_or_default();
        match (tag.starts_with('/'), tag.ends_with('/')) {
            (true, _) if open.last() != Some(&name) => {
                return Some(format!("</{name}> closes {open:?}"));
            }
            (true, _) => drop(open.pop()),
            (false, true) => {}
            (false, false) => open.push(name),
        }
    }
    (!open.is_empty()).then(|| format!("never closed: {open:?}"))
}
