#ifndef CRIMPRULE_CVX_H
#define CRIMPRULE_CVX_H

// The C face of this room. Every mat is a cv::Mat*, owned by the caller. Every function returns NULL when it did its
// work, else what went wrong: a string that the caller frees.

#include <stddef.h>

#ifdef __cplusplus
extern "C" {
#endif

typedef struct {
    double v[4];
} cvx_scalar;

typedef struct {
    int cols, rows;  // inner corners of the board that was found
    int count;       // corners written; 0 when no board was found
} cvx_board;

// A network for OpenCV's dnn module. The values of a run are the caller's to free.
char *cvx_net_read(const void *bytes, size_t length, void **net);
void cvx_net_free(void *net);
char *cvx_net_run(void *net, const float *in, int planes, int rows, int cols, float **values, int *count);

char *cvx_throw(const char *message);
void cvx_quiet(void);
char *cvx_decode(const void *bytes, int length, int flags, void *dst);
char *cvx_set_threads(int n);
int cvx_threads(void);
const char *cvx_version(void);

char *cvx_cvt_color(const void *src, void *dst, int code);
char *cvx_convert_to(const void *src, void *dst, int type, double scale, double shift);
char *cvx_over_white(const void *src, void *dst, int premultiplied);
char *cvx_transpose(const void *src, void *dst);
char *cvx_flip(const void *src, void *dst, int code);
char *cvx_resize(const void *src, void *dst, int width, int height, int interpolation);
char *cvx_remap(const void *src, void *dst, const void *map1, const void *map2, int interpolation, int border,
                cvx_scalar fill);
char *cvx_warp_affine(const void *src, void *dst, const void *matrix, int width, int height, int flags, int border,
                      cvx_scalar fill);
char *cvx_warp_perspective(const void *src, void *dst, const void *matrix, int width, int height, int flags,
                           int border, cvx_scalar fill);
char *cvx_gaussian_blur(const void *src, void *dst, int kx, int ky, double sx, double sy, int border);

char *cvx_chessboard(const void *img, int cols, int rows, int flags, float *xy, int room, cvx_board *out);
char *cvx_chessboard_sb(const void *img, int cols, int rows, int flags, float *xy, int room, cvx_board *out);
char *cvx_corner_sub_pix(const void *img, float *xy, int count, int half, int zero, int rounds, double epsilon);

#ifdef __cplusplus
}
#endif
#endif
