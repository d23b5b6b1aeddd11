/* Time that only runs forward: for measuring, never for the date. */
#ifndef TC_CLOCK_H
#define TC_CLOCK_H

/* Seconds since some moment; setting the date doesn't change it. */
double clock_now_s(void);

#endif
