"""An answer that is refused again and again stands once in the record; what is asked leave for,
each time."""

from pathlib import Path

from steplatch.runner.core.commands import Answer, Begin, Note
from steplatch.runner.jobs.store import begin
from steplatch.runner.record import find_data_folder, make_data_folder, read
from steplatch.runner.record.clocks import RealClock

from tests.played import bundle_from


def test_the_same_wrong_answer_is_one_line_and_a_refused_act_is_one_each(quick: Path) -> None:
    data = find_data_folder(quick, {})
    make_data_folder(data)
    session, folder = begin(data, bundle_from(), RealClock(), "technician-1", practice=False)
    try:
        step = session.job.core.step

        def lines_of(*commands: object) -> int:
            before = session.writer.head.lines
            for command in commands:
                assert session.submit(command).refused  # type: ignore[arg-type]
            return session.writer.head.lines - before

        wrong, other = Answer(step, "neither"), Answer(step, "nor")
        assert lines_of(*[wrong] * 20) == 1
        assert lines_of(other, wrong, wrong) == 2
        assert lines_of(*[Begin("nowhere")] * 3) == 3
        assert not session.submit(Note("text_fault", {"text": "between"})).refused
        assert lines_of(wrong) == 1
    finally:
        session.writer.close()
    assert len([*read(folder.path)]) == session.writer.head.lines
