//! Handlers, whatever they take: one type to the framework, so that what it puts around a handler
//! is the same code for all.

use std::pin::Pin;
use std::rc::Rc;

use actix_web::{Error, FromRequest, Handler, HttpRequest, HttpResponse, Route, dev, web};

use super::answer::Reply;

type Answering = Pin<Box<dyn Future<Output = Result<HttpResponse, Error>>>>;

#[derive(Clone)]
struct Answers(Rc<dyn Fn(HttpRequest, dev::Payload) -> Answering>);

impl Handler<(HttpRequest, web::Payload)> for Answers {
    type Output = Result<HttpResponse, Error>;
    type Future = Answering;

    fn call(&self, (req, payload): (HttpRequest, web::Payload)) -> Answering {
        (self.0)(req, payload.into_inner())
    }
}

/// The route to a handler.
pub(crate) fn to<H, Args>(handler: H) -> Route
where
    H: Handler<Args, Output = Reply>,
    Args: FromRequest + 'static,
{
    web::to(Answers(Rc::new(move |req, mut payload| {
        let handler = handler.clone();
        Box::pin(async move {
            let args = Args::from_request(&req, &mut payload).await.map_err(Into::into)?;
            Ok(handler.call(args).await?)
        })
    })))
}
