//! Fields filled into texts.

use crate::order::{fields_in, fill_in};

#[test]
fn fields_stand_in_braces_and_two_of_them_are_one() {
    let fields = [("name", "Ada"), ("visit-2", "21 {June}")];
    let fields = fields.map(|(key, text)| (key.to_owned(), text.to_owned())).into();
    for (text, filled) in [
        ("", ""),
        ("no field", "no field"),
        ("{name}", "Ada"),
        ("for {name}, {visit-2}.", "for Ada, 21 {June}."),
        ("{{name}} {{{name}}}", "{name} {Ada}"),
        ("{Name} {na me} {} { {name", "{Name} {na me} {} { {name"),
        ("} }} {x{name}", "} } {xAda"),
    ] {
        assert_eq!(fill_in(text, &fields).as_deref(), Ok(filled), "{text}");
    }
    assert_eq!(fill_in("{name} {street} {town}", &fields), Err("street".to_owned()));
    let asked: Vec<&str> = fields_in("{street} {{name}} {town}{street}").collect();
    assert_eq!(asked, ["street", "town", "street"]);
}
