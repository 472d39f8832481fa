"""The permissions of the site: the word that a page or a rule asks for, and a sentence for people."""

from __future__ import annotations

from enum import StrEnum


class Permission(StrEnum):
    """One thing that somebody may do; `sentence` follows the words “May”."""

    sentence: str

    def __new__(cls, name: str, sentence: str) -> Permission:
        made = str.__new__(cls, name)
        made._value_ = name
        made.sentence = sentence
        return made

    SEE_ALL_JOBS = "particles.see_all_jobs", "see the jobs and samples of every client."
    SEE_OWN_JOBS = "particles.see_own_jobs", "see where the jobs of their own clients stand."
    RECEIVE = (
        "particles.receive",
        "log jobs, decide what becomes of each bag, and correct what the client told us of job and sample.",
    )
    PREPARE = "particles.prepare", "record the preparation of a sample and decide its pretreatment."
    KEEP_CLIENTS = (
        "particles.keep_clients",
        "enter and correct clients, and say which log-ins may see a client's jobs.",
    )
    KEEP_LABORATORY = (
        "particles.keep_laboratory",
        "say what certificates print of the laboratory, and which origins are regulated.",
    )
    SEE_BATCHES = "batches.see", "see batches, runs and their figures, and the register of equipment."
    PLAN = "batches.plan", "weigh and sieve portions, make batches, and record soak, mixing and filling."
    READ = "batches.read", "start cylinders, read the hydrometer, and record what is seen at the bench."
    PLAN_DAY = (
        "batches.plan_day",
        "plan the bench day, keep its timetable, print its run sheet, and have it in their own calendar.",
    )
    SEE_REVIEWS = "batches.see_reviews", "see what a review of a batch found, answered and decided."
    REVIEW = (
        "batches.review",
        "answer causes and decide on samples, sign or return a batch, lift a void made by mistake, and put "
        "records right.",
    )
    SEE_DUPLICATES = (
        "batches.see_duplicates",
        "see the charts of quality control: blanks, reference soils, and how far duplicates differ.",
    )
    KEEP_LIMITS = (
        "batches.keep_limits",
        "enter limits of charts and reference soils, and answer for points beyond their limits.",
    )
    SEE_READERS = (
        "batches.see_readers",
        "see how far readers differ where two of them read the same cylinder.",
    )
    SEE_ROUNDS = "batches.see_rounds", "see proficiency rounds and their scores, unless they weigh or read."
    KEEP_ROUNDS = (
        "batches.keep_rounds",
        "say which samples came from a proficiency round, lock its results, enter its report and answer its scores.",
    )
    KEEP_EQUIPMENT = "batches.keep_equipment", "enter, check and withdraw instruments and dispersant lots."
    KEEP_PEOPLE = "labsite.keep_people", "make log-ins, give and take roles, and close or open a log-in."
    SEE_CERTIFICATES = "reports.see_all", "see every certificate of the laboratory."
    SEE_OWN_CERTIFICATES = "reports.see_own", "read and download the certificates of their own clients."
    ISSUE = "reports.issue", "issue, amend and withdraw certificates, and have a sample analysed again."
