from heatloop import physics as physics
from heatloop.diagnosis.diagnosis import Diagnosis as Diagnosis
from heatloop.diagnosis.readings import Reading as Reading
from heatloop.diagnosis.readings import Readings as Readings
from heatloop.diagnosis.simulated_site import SiteFault as SiteFault
from heatloop.findings.input_errors import InputError as InputError
from heatloop.findings.input_errors import InputIssue as InputIssue
from heatloop.handover.cutting.model import CuttingOptions as CuttingOptions
from heatloop.handover.cutting.model import Offcut as Offcut
from heatloop.handover.first_fix.model import FirstFixOptions as FirstFixOptions
from heatloop.handover.parts.model import PartsOptions as PartsOptions
from heatloop.handover.quotation import Quotation as Quotation
from heatloop.report.drawings.survey_form.forms import SurveyForms as SurveyForms
from heatloop.report.drawings.survey_plan.picture import SurveyPlan as SurveyPlan
from heatloop.report.plans.interactive_loop import InteractiveLoopPlan as InteractiveLoopPlan
from heatloop.report.plots import style as plotting
from heatloop.results.decisions.uncertainty import Uncertainty as Uncertainty
from heatloop.results.decisions.weather_curve import WeatherCurve as WeatherCurve
from heatloop.results.decisions.yearly_energy import YearlyEnergy as YearlyEnergy
from heatloop.results.many_dwellings.sized_dwellings import SizedDwellings as SizedDwellings
from heatloop.results.operating_point import OperatingPoint as OperatingPoint
from heatloop.survey import builders as build
from heatloop.survey.builders.schedule import survey_from_schedule as survey_from_schedule
from heatloop.survey.editing import Survey as Survey
from heatloop.survey.energy.model import Year as Year
from heatloop.survey.entry import read_survey as read_survey
from heatloop.survey.entry import survey_from_frames as survey_from_frames
from heatloop.survey.read import read_year as read_year
from heatloop.survey.starter_files import start_project as start_project
from heatloop.text.versions import show_versions as show_versions
from heatloop.workflows.design import BarSaving as BarSaving
from heatloop.workflows.design import Design as Design
from heatloop.workflows.design import size as size
from heatloop.workflows.diagnose import diagnose as diagnose
from heatloop.workflows.diagnose import read_readings as read_readings
from heatloop.workflows.diagnose import simulate_readings as simulate_readings
from heatloop.workflows.energy.weather_curve import weather_curve as weather_curve
from heatloop.workflows.energy.yearly_energy import yearly_energy as yearly_energy
from heatloop.workflows.estimating.estimate import Estimate as Estimate
from heatloop.workflows.estimating.estimate import estimate as estimate
from heatloop.workflows.flow_temperature import LowestFlowTemperature as LowestFlowTemperature
from heatloop.workflows.flow_temperature import lowest_flow_temperature as lowest_flow_temperature
from heatloop.workflows.handed_over import Commissioning as Commissioning
from heatloop.workflows.handed_over import FirstFix as FirstFix
from heatloop.workflows.handed_over import PartsList as PartsList
from heatloop.workflows.improve.improve import Improvement as Improvement
from heatloop.workflows.improve.improve import improve as improve
from heatloop.workflows.live.interactive_design import InteractiveDesign as InteractiveDesign
from heatloop.workflows.many_dwellings.size_many import size_many as size_many
from heatloop.workflows.one_loop.single_loop import SingleLoop as SingleLoop
from heatloop.workflows.one_loop.skirting_run import SkirtingRun as SkirtingRun
from heatloop.workflows.one_loop.skirting_run import skirting_run as skirting_run
from heatloop.workflows.operating_point import simulate as simulate
from heatloop.workflows.publishing.publish import publish_report as publish_report
from heatloop.workflows.study.study import Study as Study
from heatloop.workflows.study.study import read_study as read_study
from heatloop.workflows.study.study import study as study
from heatloop.workflows.surveying.form import form as form
from heatloop.workflows.surveying.plan import plan as plan
from heatloop.workflows.tracing.trace_plan import PlanTrace as PlanTrace
from heatloop.workflows.tracing.trace_plan import trace_plan as trace_plan
from heatloop.workflows.uncertainty.bands import Band as Band
from heatloop.workflows.uncertainty.uncertainty import uncertainty as uncertainty

__all__ = [
    "Band", "BarSaving", "Commissioning", "CuttingOptions", "Design", "Diagnosis", "Estimate", "FirstFix",
    "FirstFixOptions", "Improvement", "InputError", "InputIssue", "InteractiveDesign", "InteractiveLoopPlan",
    "LowestFlowTemperature", "Offcut", "OperatingPoint", "PartsList", "PartsOptions", "PlanTrace", "Quotation",
    "Reading", "Readings", "SingleLoop", "SiteFault", "SizedDwellings", "SkirtingRun", "Study", "Survey",
    "SurveyForms", "SurveyPlan", "Uncertainty", "WeatherCurve", "Year", "YearlyEnergy", "build", "diagnose",
    "estimate", "form", "improve", "lowest_flow_temperature", "physics", "plan", "plotting", "publish_report",
    "read_readings", "read_study", "read_survey", "read_year", "show_versions", "simulate", "simulate_readings",
    "size", "size_many", "skirting_run", "start_project", "study", "survey_from_frames", "survey_from_schedule",
    "trace_plan", "uncertainty", "weather_curve", "yearly_energy",
]  # fmt: skip
