//! What the trade says, held against the selection.

use etui_schema::vocabulary::*;
use super::*;

#[test]
fn dump() {
    let register = Register::builtin().unwrap();
    let selector = Selector::builtin(&register).unwrap();
    let model = Model::builtin().unwrap();
    println!("{} usual", selector.usual().len());
    let m = |s: Option<f64>, r: Option<f64>, g: Option<Give>| Some(Machine{stroke_mm:s,rate_hz:r,give:g});
    let sk = |f: fn(&mut Skin)| { let mut s = Skin::default(); f(&mut s); Some(s) };
    let settings: Vec<(&str, Setting)> = vec![
        ("normal", Setting::default()),
        ("heavy", Setting{hand:Some(Hand::Heavy),..Default::default()}),
        ("light", Setting{hand:Some(Hand::Light),..Default::default()}),
        ("weak", Setting{machine:m(Some(2.0),Some(70.0),Some(Give::Soft)),..Default::default()}),
        ("hard", Setting{machine:m(Some(3.5),Some(100.0),Some(Give::Firm)),..Default::default()}),
        ("long4", Setting{machine:m(Some(4.0),None,None),..Default::default()}),
        ("fine", Setting{skin:sk(|s| s.thickness=Some(Thickness::Fine)),..Default::default()}),
        ("sens", Setting{skin:sk(|s| s.sensitivity=Some(Sensitivity::High)),..Default::default()}),
        ("thick", Setting{skin:sk(|s| s.thickness=Some(Thickness::Thick)),..Default::default()}),
        ("oily", Setting{skin:sk(|s| s.oiliness=Some(Oiliness::Oily)),..Default::default()}),
        ("chair", Setting{hand:Some(Hand::Heavy),machine:m(Some(3.5),None,Some(Give::Firm)),skin:sk(|s| {s.thickness=Some(Thickness::Fine);s.oiliness=Some(Oiliness::Dry);s.age_years=Some(68)}),..Default::default()}),
    ];
    for t in Treatment::ALL {
        for e in selector.effects(*t).collect::<Vec<_>>() {
            for (name, setting) in &settings {
                let s = selector.select(&model, &Request{treatment:*t,effect:e,setting,candidates:selector.usual(),limit:500}).unwrap();
                let top: Vec<_> = s.ranked.iter().take(6).map(|r| format!("{} {:.2}", r.configuration.canonical(), r.desirability)).collect();
                println!("{t} {e} {name:7} [{}/{}]: {}", s.ranked.len(), s.set_aside.len(), top.join(", "));
            }
        }
    }
}
