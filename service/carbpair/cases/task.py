"""The work behind a job: load photos, look at them, keep the result. Safe to run twice."""

from collections.abc import Callable, Mapping, Sequence

from carbpair.cases import analysis, case, correction, doomed, one_shot, photo
from carbpair.cases.analyser import analyse
from carbpair.cases.error import NotFoundError
from carbpair.cases.identification import Said, identify
from carbpair.cases.photo import Photo, phases
from carbpair.cases.queue import Job
from carbpair.cases.source_photo import SourcePhoto
from carbpair.cases.workspace import Workspace
from carbpair.drawn_carb import DrawnCarb


def performer(workspace: Workspace) -> Callable[[Job], None]:
    """Return the function that a queue's worker calls for each job."""

    def perform(job: Job) -> None:
        if job.kind == "case":
            _analyse_case(workspace, job.target)
        else:
            _inspect_once(workspace, job.target)

    return perform


def giver_up(workspace: Workspace) -> Callable[[Job, str], None]:
    """Return the function that notes a job's final failure where people see it."""

    def give_up(job: Job, error: str) -> None:
        with workspace.database.write() as connection:
            if job.kind == "case":
                analysis.fail(connection, job.target, error)
            else:
                one_shot.end(connection, job.target, error=error)

    return give_up


def tidy(workspace: Workspace) -> None:
    """Remove what a crash or a vanished sender left behind."""
    with workspace.database.write() as connection:
        one_shot.drop_old(connection)
    doomed.sweep(workspace.database, workspace.store)


def _analyse_case(workspace: Workspace, analysis_id: str) -> None:
    with workspace.database.write() as connection:
        wanted = analysis.get(connection, analysis_id)
        # None: the case was deleted. False: done, failed, or overtaken by newer photos.
        if wanted is None or not analysis.start(connection, analysis_id):
            return
        rows = photo.of_case(connection, wanted.case_id)
        drawn = correction.drawn_carbs(correction.in_force(connection, wanted.case_id))
    before, after = phases(rows)
    try:
        sources = [_source(workspace, row, drawn) for row in before]
        sources_after = [_source(workspace, row, drawn) for row in after]
    except NotFoundError:
        with workspace.database.read() as connection:
            if analysis.get(connection, analysis_id) is None:
                return
            if case.get(connection, wanted.case_id).revision != wanted.revision:
                return
        raise

    def on_photo(count: int) -> None:
        with workspace.database.write() as connection:
            analysis.progress(connection, analysis_id, count)

    inspection = analyse(sources, workspace.settings, on_photo)
    inspection_after = None
    if sources_after:
        inspection_after = analyse(
            sources_after, workspace.settings, lambda count: on_photo(len(sources) + count)
        )
    with workspace.database.write() as connection:
        analysis.finish(connection, analysis_id, inspection, inspection_after)


def _source(
    workspace: Workspace, row: Photo, drawn: Mapping[str, Sequence[DrawnCarb]]
) -> SourcePhoto:
    data = workspace.store.get(row.store_key)
    by_hand = tuple(drawn.get(row.id, ()))
    return SourcePhoto(row.file_name, data, tuple(row.notes), row.view, by_hand)


def _inspect_once(workspace: Workspace, one_shot_id: str) -> None:
    with workspace.database.read() as connection:
        try:
            wanted = one_shot.get(connection, one_shot_id)
        except NotFoundError:
            return
    if wanted.state != "queued":
        return
    sources = [SourcePhoto(file["name"], workspace.store.get(file["key"])) for file in wanted.files]
    inspection = analyse(sources, workspace.settings)
    inspection["identification"] = identify(
        inspection, Said.from_json(wanted.request), [], workspace.settings
    )
    with workspace.database.write() as connection:
        one_shot.end(connection, one_shot_id, inspection=inspection)
