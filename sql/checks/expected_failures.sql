-- Faulty rows: fits whose failures expected by like kinds lie outside their range, or with an odd chance.
select application_class, construction, mechanism, failures_expected, expected_p_value
from results.fits
where failures_expected < 0 or failures_expected not between failures_expected_lower and failures_expected_upper
    or expected_p_value not between 0 and 1 or isnan(failures_expected)
order by application_class, construction, mechanism
