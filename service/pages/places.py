"""Every page there is, in the order of the work."""

from plaitlog.service.pages import handling, home, jobs, static_files
from plaitlog.service.pages.cords import advice, new_cord
from plaitlog.service.pages.cords import routes as cords
from plaitlog.service.pages.fits import checks
from plaitlog.service.pages.fits import routes as fits
from plaitlog.service.pages.importing import routes as importing
from plaitlog.service.pages.measuring import routes as measuring
from plaitlog.service.pages.planning import bench_sheets
from plaitlog.service.pages.planning import routes as planning
from plaitlog.service.pages.predicting import routes as predicting
from plaitlog.service.pages.recording import routes as recording
from plaitlog.service.pages.whips import editing, listing, one_whip, photos, rating
from plaitlog.service.pages.workshop import backups, directory, exporting, history, makers, settings

PLACES = (
    home,
    listing,
    one_whip,
    editing,
    photos,
    recording,
    measuring,
    rating,
    cords,
    new_cord,
    advice,
    predicting,
    planning,
    bench_sheets,
    fits,
    checks,
    handling,
    directory,
    makers,
    importing,
    exporting,
    backups,
    history,
    settings,
    jobs,
    static_files,
)
"""Each has ``routes``."""
