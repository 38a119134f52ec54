//! Whatever is kept is listed in pages, what is read goes back whole, and a wrong parameter has one
//! status.

use etui_schema::problem::ErrorCode;
use etui_tests::document::Document;
use etui_tests::running::Running;
use etui_tests::tour::Tour;
use etui_tests::wire::Request;
use serde_json::{Value, json};

use crate::lists::{listed, made, sorted, tag};

/// Every fault of a parameter is one of the request: 400, whether the schema finds it or the records.
#[test]
fn a_wrong_parameter_has_one_status() {
    let tour = Tour::shared();
    let mut cursors = 0;
    for operation in Document::of_this_build().operations() {
        if !operation.query.iter().any(|name| name == "cursor") {
            continue;
        }
        let good = tour.example(&operation.id).request.clone();
        let base = good.target.clone();
        let joint = if base.contains('?') { '&' } else { '?' };
        for wrong in ["cursor=abc", "limit=0"] {
            if base.contains(wrong.split('=').next().unwrap_or_default()) {
                continue;
            }
            let target = format!("{base}{joint}{wrong}");
            let refused = tour.running.call(&Request { target, ..good.clone() });
            assert_eq!(refused.status, 400, "{} {wrong}: {}", operation.id, refused.text());
            assert_eq!(refused.problem().code, ErrorCode::UnreadableRequest);
            cursors += 1;
        }
    }
    assert!(20 < cursors, "{cursors}");
    for wrong in [
        "/v1/lots?configuration=zz",
        "/v1/appointment-checks?from=2027-04-05&to=2027-04-04",
        "/v1/treatments?from=2027-04-05&to=2027-04-04",
        "/v1/configuration-drawings?label=zz",
    ] {
        let refused = tour.running.call(&Request::get(wrong));
        assert_eq!(refused.problem().code, ErrorCode::UnreadableRequest, "{wrong}");
        assert!(refused.problem().errors[0].pointer.starts_with("query:"), "{wrong}");
    }
}

/// What stands below a treatment is listed as it stands in it, whole or page by page; and so is
/// whatever else was given an id.
#[test]
fn what_belongs_to_something_is_listed() {
    let tour = Tour::shared();
    let document = Document::of_this_build();
    let paths: Vec<String> = document
        .operations()
        .into_iter()
        .map(|one| format!("{} {}", one.method, one.path))
        .collect();
    // A secret's calendar, an event's deliveries and what a check became have no list of their own.
    for one in document.operations().iter().filter(|one| one.method == "GET") {
        let Some((above, _)) =
            one.path.strip_suffix("_id}").and_then(|path| path.rsplit_once("/{"))
        else {
            continue;
        };
        assert!(paths.contains(&format!("GET {above}")), "{}: no list at {above}", one.id);
    }
    let treatment = tour.example("get_treatment").request.path().to_owned();
    let whole = tour.running.call(&Request::get(treatment.as_str())).json();
    let mut seen = 0;
    macro_rules! lists {
        ([] $($(#[$doc:meta])* $member:ident $name:ident $types:tt
            [$make:ident $get:ident $list:ident] $more:tt)*) => {
            [$((etui_schema::endpoints::$list().at.path, stringify!($member))),*]
        };
    }
    for (path, member) in etui_schema::entries!(lists) {
        let list = path.rsplit('/').next().expect("a name");
        let page = tour.running.call(&Request::get(format!("{treatment}/{list}"))).json();
        let stands = whole.get(member).cloned().unwrap_or_else(|| json!([]));
        assert_eq!(page["items"], stands, "{list}");
        seen += page["items"].as_array().map_or(0, Vec::len);
    }
    assert!(2 < seen, "{seen}: {whole}");
    let nobody = "/v1/treatments/0198c6a2-7d5e-7000-8000-000000000001/reviews";
    assert_eq!(tour.running.call(&Request::get(nobody)).status, 404);
}

/// What GET gives of a pack, PUT takes; of plug-ins and subscriptions PATCH does. What the service
/// sets is refused where it is another.
#[test]
fn what_was_read_goes_back_whole() {
    let service = Running::start();
    for (path, of) in [
        ("/v1/packs/rules/p1", "put_rules_pack"),
        ("/v1/packs/label-spellings/p1", "put_label_spellings_pack"),
        ("/v1/packs/aftercare/p1", "put_aftercare_pack"),
    ] {
        let pack = Tour::shared().example(of).request.json_body().expect("a pack");
        let kept = service.call(&Request::put(path, &pack));
        assert_eq!(kept.status, 201, "{path}: {}", kept.text());
        let read = service.call(&Request::get(path));
        let back =
            |body: &Value| service.call(&Request::put(path, body).header("If-Match", tag(&read)));
        for (name, wrong) in
            [("revision", json!(7)), ("name", json!("other")), ("no_such", json!(1))]
        {
            let mut other = read.json();
            other[name] = wrong;
            let refused = back(&other);
            assert_eq!(refused.status, 422, "{path} {name}: {}", refused.text());
            assert_eq!(refused.problem().errors[0].pointer, format!("#/{name}"));
        }
        let mut unsound = read.json();
        unsound["pack"]["no_such"] = json!(1);
        assert_eq!(back(&unsound).problem().errors[0].pointer, "#/pack/no_such", "{path}");
        let again = back(&read.json());
        assert_eq!(again.status, 200, "{path}: {}", again.text());
        assert_eq!(again.json()["pack"], read.json()["pack"]);
        assert_eq!(again.json()["revision"], 2);
    }
    let plugin = json!({ "name": "desk", "scopes": ["checks:read"], "requests_per_day": 9 });
    let subscription = json!({ "url": "http://127.0.0.1:9/nobody", "types": ["pack.changed"] });
    for (list, body) in [("/v1/plugins", plugin), ("/v1/subscriptions", subscription)] {
        let made = made(&service, list, &body);
        let path = format!("{list}/{}", made["id"].as_str().expect("an id"));
        let read = service.call(&Request::get(path.as_str()));
        let patch = |body: &Value| {
            let held = service.call(&Request::get(path.as_str()));
            service.call(&Request::merge(path.as_str(), body).header("If-Match", tag(&held)))
        };
        let same = patch(&read.json());
        assert_eq!(same.status, 200, "{path}: {}", same.text());
        let mut other = read.json();
        other["id"] = json!("0198c6a2-7d5e-7000-8000-000000000001");
        assert_eq!(patch(&other).problem().errors[0].pointer, "#/id", "{path}");
        // What is taken is a new version, also where it says what was there.
        let before = service.call(&Request::get(path.as_str()));
        let none = patch(&json!({}));
        assert_ne!(tag(&none), tag(&before), "{path}");
    }
}

/// Lists that once came whole come in pages too.
#[test]
fn calendars_subscriptions_and_tokens_come_in_pages() {
    let service = Running::start();
    let plugin = json!({ "name": "desk", "scopes": ["checks:read"] });
    let plugin = made(&service, "/v1/plugins", &plugin)["id"].as_str().expect("an id").to_owned();
    let tokens = format!("/v1/plugins/{plugin}/tokens");
    for (list, body) in [
        ("/v1/calendars", json!({ "of": "studio" })),
        ("/v1/subscriptions", json!({ "url": "http://127.0.0.1:9/nobody" })),
        (tokens.as_str(), json!({ "name": "desk" })),
    ] {
        let ids: Vec<String> = (0..3)
            .map(|_| made(&service, list, &body)["id"].as_str().expect("an id").to_owned())
            .collect();
        assert_eq!(
            sorted(listed(&service, &format!("{list}?limit=1"), "id")),
            sorted(ids),
            "{list}"
        );
    }
}
