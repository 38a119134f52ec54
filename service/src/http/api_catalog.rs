//! `/.well-known/api-catalog` (RFC 9727): where a program that knows only the
//! host finds the document, the pages, the schemas and the health.

use actix_web::http::header::{self, HeaderValue};
use etui_schema::endpoints::{self, At};
use etui_schema::service::{ApiCatalog, CatalogContext, CatalogTarget};

use super::answer::{Reply, tagged, to_bytes};
use super::call::Call;
use super::handler::to;
use super::operation::Operation;

/// RFC 9727, 4.2: the profile says that the linkset is a catalogue of APIs.
const WITH_PROFILE: &str =
    "application/linkset+json; profile=\"https://www.rfc-editor.org/info/rfc9727\"";

pub(crate) fn operations() -> Vec<Operation> {
    vec![
        Operation::of(endpoints::get_api_catalog(), || to(catalog))
            .says(
                "The catalogue of this host's interface",
                "RFC 9727: a linkset (RFC 9264) that leads to the document, the pages, the schemas \
                 and the health.",
            )
            .answers(200, "The catalogue.")
            .if_none_match(),
    ]
}

async fn catalog(call: Call) -> Reply {
    let to = |at: At, media: &str| {
        vec![CatalogTarget { href: at.path.to_owned(), media: media.to_owned() }]
    };
    let catalog = ApiCatalog {
        linkset: vec![CatalogContext {
            anchor: "/v1".to_owned(),
            service_desc: to(endpoints::get_openapi().at, "application/json"),
            service_doc: to(endpoints::get_docs().at, "text/html"),
            service_meta: to(endpoints::get_capabilities().at, "application/json"),
            status: to(endpoints::get_readiness().at, "application/json"),
            describedby: to(endpoints::list_schemas().at, "application/json"),
            help: to(endpoints::list_problems().at, "text/html"),
        }],
    };
    let mut answer = tagged(&call, WITH_PROFILE, to_bytes(&catalog)?)?;
    // RFC 9727, 2: a HEAD tells by this that the catalogue is here.
    let here = HeaderValue::from_static("</.well-known/api-catalog>; rel=\"api-catalog\"");
    answer.headers_mut().insert(header::LINK, here);
    Ok(answer)
}
