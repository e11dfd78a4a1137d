"""The pages put together behind the door."""

from __future__ import annotations

from collections.abc import Callable

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData, UploadFile
from starlette.exceptions import HTTPException
from starlette.formparsers import MultiPartException
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import JSONResponse, PlainTextResponse, Response
from starlette.routing import Mount, Route

from picklist.server import (
    after_pages,
    cart_pages,
    carts,
    decision_pages,
    export_pages,
    file_in,
    form_pages,
    office_pages,
    paper_pages,
    put_back_pages,
    records_pages,
    scan_pages,
    tonight,
    trying,
)
from picklist.server.desk import Desk
from picklist.server.front_door import Doorkeeper, FrontDoor, TooLarge, same_secret
from picklist.server.visit import NotHere, Visit
from picklist.tasks.crash import report_crash
from picklist.tasks.errors import WrongUse, refusals
from picklist.tasks.shown import as_typed, template_folder

Page = Callable[[Visit], Response]
FIELDS = 2000
GONE = "What this form is about is no longer there: lists were built or something was recorded since. Nothing was kept."
STATIC = {
    "style.css": ("server/style.css", "text/css; charset=utf-8"),
    "icon.svg": ("server/icon.svg", "image/svg+xml"),
    "marks.js": ("server/marks.js", "text/javascript; charset=utf-8"),
    "scan.js": ("server/scan.js", "text/javascript; charset=utf-8"),
    "page.js": ("server/page.js", "text/javascript; charset=utf-8"),
    "Inter-Regular.otf": ("fonts/Inter-Regular.otf", "font/otf"),
    "Inter-SemiBold.otf": ("fonts/Inter-SemiBold.otf", "font/otf"),
    "Inter-Bold.otf": ("fonts/Inter-Bold.otf", "font/otf"),
}


def make_app(desk: Desk, door: FrontDoor) -> Starlette:
    """All pages of one run, under the door's path."""
    site = _Site(desk, door)
    looks: dict[str, Page] = {
        "/": tonight.show_tonight,
        "/input": file_in.show_input,
        "/input/file/{work}": file_in.show_trial,
        "/input/export/{number}": export_pages.show_export,
        "/forms/{work}": form_pages.show_form,
        "/forms/{work}/done": form_pages.show_recorded,
        "/after": after_pages.show_after,
        "/after/settle/{work}": after_pages.show_settled,
        "/after/calibration/{work}": after_pages.show_judged,
        "/after/calibration/{work}/print": after_pages.print_judged,
        "/papers": paper_pages.show_papers,
        "/papers/morning/{work}": paper_pages.show_morning,
        "/papers/morning/{work}/print": paper_pages.send_morning,
        "/papers/{file:path}": paper_pages.send_paper,
        "/why": paper_pages.show_why,
        "/board": paper_pages.show_board,
        "/board/page": paper_pages.send_board,
        "/try": trying.show_try,
        "/try/{work}": trying.show_tried,
        "/try/{work}/board/{when}": trying.send_tried_board,
        "/carts": carts.show_carts,
        "/carts/told/{work}": cart_pages.show_told,
        "/carts/case": cart_pages.show_cart,
        "/scan": scan_pages.show_scan,
        "/put-backs": put_back_pages.show_put_backs,
        "/decisions": decision_pages.show_decisions,
        "/decisions/of": decision_pages.show_matter,
        "/offices": office_pages.show_offices,
        "/offices/back/{work}": office_pages.show_taken_back,
        "/offices/back/{work}/workbook": office_pages.send_marked_workbook,
        "/offices/sent/{work}": office_pages.show_sent_all,
        "/offices/sent/{work}/all": office_pages.send_sent_all,
        "/offices/history": office_pages.show_card_history,
        "/offices/tidy/{work}": office_pages.show_tidied,
        "/tables": records_pages.show_tables,
        "/tables/schema": records_pages.send_schema,
        "/offices/effect/{work}": office_pages.show_effect,
        "/offices/applied/{work}": office_pages.show_applied,
        "/work/{work}": show_work,
        "/static/{name}": send_static,
    }
    does: dict[str, Page] = {
        "/build": tonight.start_build,
        "/input": file_in.hand_in_file,
        "/input/file/{work}/name": file_in.hand_in_again,
        "/input/file/{work}/keep": file_in.keep_handed_in,
        "/input/file/{work}/drop": file_in.drop_handed_in,
        "/first/demo": file_in.write_demo,
        "/first/blank": file_in.write_blank_workbooks,
        "/input/export/{number}": export_pages.learn_headers,
        "/input/fix": file_in.fix_problem,
        "/input/fix/{number}/undo": file_in.undo_problem_fix,
        "/forms/{work}": form_pages.record_form,
        "/after/settle": after_pages.start_settling,
        "/after/calibration": after_pages.start_judging,
        "/after/write": after_pages.write_settled,
        "/papers/morning": paper_pages.start_morning,
        "/try": trying.try_form,
        "/try/remedy": trying.try_remedy,
        "/carts": cart_pages.mark_cart,
        "/carts/undo": cart_pages.undo_marked,
        "/carts/case": cart_pages.tell_cart,
        "/scan": scan_pages.take_scan,
        "/put-backs": put_back_pages.tell_put_backs,
        "/put-backs/reopen": put_back_pages.reopen,
        "/decisions/of": decision_pages.tell_matter,
        "/offices": office_pages.take_office_workbook,
        "/offices/workbooks": office_pages.send_all_workbooks,
        "/offices/tidy": office_pages.start_tidying,
        "/papers/records": records_pages.send_records,
        "/papers/calendars": records_pages.send_calendars,
        "/offices/workbook": office_pages.send_office_workbook,
        "/offices/proposal/{proposal}/effect": office_pages.weigh_proposal,
        "/offices/proposal/{proposal}/approve": office_pages.approve_waiting,
        "/offices/proposal/{proposal}/reject": office_pages.reject_proposal,
        "/offices/request/{request}/answer": office_pages.answer_waiting,
        "/offices/undo": office_pages.undo_changes,
        "/offices/back/{work}/ours": office_pages.take_unrecorded,
    }
    routes = [
        Route("/start", site.start, methods=["GET"]),
        Route("/version", site.version, methods=["GET"]),
        Route("/work/{work}/stage", site.stage, methods=["GET"]),
        *(Route(path, site.looking(page), methods=["GET"]) for path, page in looks.items()),
        *(Route(path, site.doing(page), methods=["POST"]) for path, page in does.items()),
    ]
    return Starlette(
        routes=[Mount(door.base, routes=routes)],
        middleware=[Middleware(Doorkeeper, door=door)],
        exception_handlers={TooLarge: site.too_large, HTTPException: site.http_error, Exception: site.fault},
    )


class _Site:
    """Wraps pages: from a request to a visit, and from a refusal to a sentence."""

    def __init__(self, desk: Desk, door: FrontDoor) -> None:
        self._desk, self._door = desk, door

    def looking(self, page: Page) -> Callable[[Request], object]:
        """A page that only looks."""

        async def endpoint(request: Request) -> Response:
            return await self._answer(page, self._visit(request, FormData()))

        return endpoint

    def doing(self, page: Page) -> Callable[[Request], object]:
        """A form's target: its token is checked before anything else."""

        async def endpoint(request: Request) -> Response:
            try:
                async with request.form(max_files=1, max_fields=FIELDS) as form:
                    token = form.get("token")
                    if not (isinstance(token, str) and same_secret(token, self._door.token)):
                        return PlainTextResponse(
                            "This form is from an earlier run of picklist. Open the page again.",
                            403,
                        )
                    return await self._answer(page, self._visit(request, form))
            except MultiPartException as wrong:
                return PlainTextResponse(f"The form could not be read: {wrong.message}", 400)

        return endpoint

    async def start(self, request: Request) -> Response:
        """Open the door: the cookie is set by an answer of our own, so that the next request is from our own page."""
        if not same_secret(request.query_params.get("key", ""), self._door.key):
            return PlainTextResponse("This link is from an earlier run; use the one that picklist printed.", 403)
        answer = self._visit(request, FormData()).show("start", "")
        answer.set_cookie(self._door.cookie, self._door.session, path=self._door.base, httponly=True, samesite="strict")
        return answer

    async def stage(self, request: Request) -> Response:
        """How far a piece of work is, for the page that waits for it."""
        work = self._desk.workshop.find(request.path_params["work"])
        if work is None:
            raise HTTPException(404)
        return JSONResponse(
            {
                "stage": work.stage,
                "share": work.share,
                "running": work.running,
                "first": work.first,
                "refused": bool(work.refused),
            }
        )

    async def version(self, _request: Request) -> Response:
        """Whether a window still shows what there is: a short word, and no page is made for it."""
        return JSONResponse({"version": await run_in_threadpool(self._desk.version)})

    def _visit(self, request: Request, form: FormData) -> Visit:
        items = form.multi_items()
        texts = [(as_typed(name), as_typed(value)) for name, value in items if isinstance(value, str)]
        return Visit(
            desk=self._desk,
            door=self._door,
            path={name: str(value) for name, value in request.path_params.items()},
            asked={name: as_typed(value) for name, value in request.query_params.items()},
            form=dict(texts),
            lists={name: [one for other, one in texts if other == name] for name in dict(texts)},
            files={name: value for name, value in items if isinstance(value, UploadFile)},
            version=self._desk.version(),
        )

    async def _answer(self, page: Page, visit: Visit) -> Response:
        """The page, made beside the loop so that no page waits for another."""

        def look() -> Response:
            with refusals():
                return page(visit)

        try:
            return await run_in_threadpool(look)
        except WrongUse as wrong:
            return await self._refuse(visit, str(wrong), 422)
        except NotHere:
            if visit.form:  # what it is about was there when the form was opened
                return await self._refuse(visit, GONE, 404)
            raise HTTPException(404) from None
        except HTTPException:
            raise
        except Exception as error:
            return PlainTextResponse(f"picklist: {report_crash(error)}.", 500)

    async def _refuse(self, visit: Visit, sentence: str, status: int) -> Response:
        refused = await run_in_threadpool(visit.show, "refused", "refused", sentence=sentence, written=bool(visit.form))
        refused.status_code = status
        return refused

    async def too_large(self, _request: Request, _error: Exception) -> Response:
        """A body that grew too large while it came in."""
        return PlainTextResponse("That is too large; nothing was kept.", 413)

    async def http_error(self, request: Request, error: Exception) -> Response:
        """No such page, or another use of one."""
        assert isinstance(error, HTTPException)
        sentence = "This page does not exist." if error.status_code == 404 else "This page cannot do that."
        visit = self._visit(request, FormData())
        return await self._refuse(visit, sentence, error.status_code)

    async def fault(self, _request: Request, error: Exception) -> Response:
        """A fault of the program outside any page."""
        return PlainTextResponse(f"picklist: {report_crash(error)}.", 500)


def show_work(visit: Visit) -> Response:
    """A piece of work: its stage while it runs, then on to its page, or why it came to nothing."""
    work = visit.desk.workshop.find(visit.path["work"])
    if work is None:
        raise NotHere
    if work.running and not work.first:
        return visit.show("work", "work", work=work)
    if work.refused:
        return visit.show("refused", "refused", sentence=work.refused, written=False)
    return visit.go(work.next)


def send_static(visit: Visit) -> Response:
    """The style, the script and the type of the pages; nothing else is there."""
    if visit.path["name"] not in STATIC:
        raise NotHere
    file, kind = STATIC[visit.path["name"]]
    content = (template_folder() / file).read_bytes()
    return Response(content, media_type=kind, headers={"cache-control": "private, max-age=600"})
