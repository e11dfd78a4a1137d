"""The pages of papers: those of an earlier run where they still hold, those that were set ahead, the others set now."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import islice

from picklist.documents.page_cache import FormerPages, KnownSheet
from picklist.documents.pages import join
from picklist.documents.set_ahead import SetAhead
from picklist.documents.typesetters import draw_all

Progress = Callable[[str, int, int], None]  # what was done, how many are done, of how many


class PageSetter:
    """Gives each paper its pages, and knows of which lists they were ``kept`` and of which ``drawn`` anew."""

    def __init__(self, former: FormerPages, revision: int, ahead: Sequence[SetAhead], progress: Progress) -> None:
        self.kept: list[str] = []
        self.drawn: list[str] = []
        self.notices: list[str] = []
        self._former = former
        self._revision = revision
        self._ahead = ahead
        self._progress = progress

    def pages(self, papers: Sequence[KnownSheet]) -> dict[str, bytes]:
        """The PDF of each paper, by its file; to be asked once."""
        former = {paper.sheet.file: self._former.pages(paper, self._revision) for paper in papers}
        pdfs = {file: pdf for file, pdf in former.items() if pdf is not None}
        self.kept = [paper.case for paper in papers if paper.case and paper.sheet.file in pdfs]
        self.drawn = [paper.case for paper in papers if paper.case and paper.sheet.file not in pdfs]
        done, of = 0, sum(len(paper.parts) for paper in papers if paper.sheet.file not in pdfs)

        def tell(file: str) -> None:
            nonlocal done
            done += 1
            self._progress(file, done, of)

        pdfs |= self._set_ahead([paper for paper in papers if paper.sheet.file not in pdfs], tell)
        fresh = [paper for paper in papers if paper.sheet.file not in pdfs]
        drawn = iter(draw_all([part for paper in fresh for part in paper.parts], tell, notice=self._notice_once))
        return pdfs | {paper.sheet.file: _one_file(paper, list(islice(drawn, len(paper.parts)))) for paper in fresh}

    def _set_ahead(self, papers: Sequence[KnownSheet], tell: Callable[[str], None]) -> dict[str, bytes]:
        """The PDFs of those papers that were set while the plan was made; nothing is told of what serves none."""
        pdfs: dict[str, bytes] = {}
        wanted = {digest for paper in papers for digest in paper.digests}
        for ahead in self._ahead:
            pdfs |= ahead.pages(tell, wanted)
            for said in ahead.notices:
                self._notice_once(said)
        return {
            paper.sheet.file: _one_file(paper, [pdfs[part] for part in paper.digests])
            for paper in papers
            if pdfs.keys() >= set(paper.digests)
        }

    def _notice_once(self, said: str) -> None:
        if said not in self.notices:
            self.notices.append(said)


def _one_file(paper: KnownSheet, parts: Sequence[bytes]) -> bytes:
    return join(parts, paper.sheet.made) if paper.rest else parts[0]
