-- Faulty rows: spans that end before they start, shares outside 0 to 1, survival that does not fall by the share, shares that do not add up.
with spans as (
    select *, sum(failed_share) over (partition by application_class, construction, mechanism) as total from results.free_survival
)

select application_class, construction, mechanism, start_days, end_days, failed_share from spans
where end_days < start_days or start_days < 0 or failed_share not between 0 and 1 or abs(total - 1) > 1e-6
    or abs(survival_before - survival_after - failed_share) > 1e-6 or survival_before not between 0 and 1
order by application_class, construction, mechanism, start_days
